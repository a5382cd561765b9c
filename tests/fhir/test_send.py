"""Sending: what is new, once, of the right patient, and nothing of the record's own."""

import json
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from handoff.cli import main as cli
from handoff.fhir.outgoing import OF_WHOM, Entry
from handoff.fhir.transactions import batches
from handoff.model.findings import Place, text
from tests.fhir.bad_sendings import BAD_SENDINGS, IN_DOUBT, found_of_sending
from tests.fhir.bad_servers import gives
from tests.fhir.record import Asked, Handler, Record, Resource, serving
from tests.fhir.sending import (
    IN_ALL,
    ROWS,
    exercise,
    made,
    number_of,
    page,
    patient,
    people,
    shift_of,
    sign,
    url_of,
    write,
)
from tests.fhir.ward import person

ODILE = patient()
ALL_SENT = f"{IN_ALL} sent\n"
ALL_THERE = f"{IN_ALL} there already\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write(tmp_path / "fhir", *shift_of(ODILE))


def send(record: Record, folder: Path, *more: str) -> int:
    with serving(record) as base:
        return cli.main(["fhir", "send", str(folder), base, *more])


def kept(record: Record) -> Counter[str]:
    """How often the record has each identity of ours."""
    every = (each for kind in OF_WHOM for each in record.all(kind))
    return Counter(
        own["value"] for each in every for own in each["identifier"] if own["system"] == ROWS
    )


def the(record: Record, what: str, kind: str = "Observation") -> Resource:
    (found,) = (
        each for each in record.all(kind) if each["identifier"][0]["value"] == number_of(what)
    )
    return found


def test_a_dry_run_says_what_would_be_sent_and_sends_nothing(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = people()
    assert send(record, folder, "--dry-run") == cli.DONE
    assert capsys.readouterr().out == f"{IN_ALL} to send; nothing was sent yet\n"
    assert record.writes == []


def test_sending_twice_makes_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = people()
    assert send(record, folder) == cli.DONE
    assert capsys.readouterr().out == ALL_SENT
    assert set(kept(record).values()) == {1}
    assert len(kept(record)) == IN_ALL
    written = len(record.writes)
    assert send(record, folder) == cli.DONE
    assert capsys.readouterr().out == ALL_THERE
    assert len(record.writes) == written


def test_what_is_sent_is_of_the_records_patient_and_names_what_the_record_has(folder: Path) -> None:
    record = people()
    send(record, folder)
    row = the(record, "signed row")
    assert row["subject"] == {"reference": "Patient/p1"}
    signs = [the(record, name)["id"] for name in ("spo2", "pulse")]
    assert row["hasMember"] == [{"reference": f"Observation/{each}"} for each in signs]
    best = the(record, "best volume")["derivedFrom"]
    assert best[0] == {"reference": f"Observation/{row['id']}"}
    assert best[1]["identifier"]["value"] == number_of("a row of before")  # which is not there
    assert the(record, "device", "DeviceUseStatement")["device"] == {"reference": "#d"}


def test_a_row_of_an_earlier_shift_is_named_by_where_the_record_has_it(folder: Path) -> None:
    record = people()
    send(record, write(folder.parent / "before", exercise("a row of before", ODILE)))
    send(record, folder)
    before = the(record, "a row of before")
    assert the(record, "best volume")["derivedFrom"][1] == {
        "reference": f"Observation/{before['id']}"
    }


def test_nothing_of_the_records_own_is_created_or_changed(folder: Path) -> None:
    record = people()
    send(record, folder)
    sent = [each for one in record.writes for each in one.body["entry"]]
    assert {each["resource"]["resourceType"] for each in sent} <= set(OF_WHOM)
    assert {each["request"]["method"] for each in sent} == {"POST"}
    assert [each["meta"]["versionId"] for each in record.all("Patient")] == ["1", "1"]


def in_transactions(record: Record) -> list[list[str]]:
    return [
        [each["fullUrl"] for each in one.body["entry"]]
        for one in record.writes
        if one.method == "POST"
    ]


@pytest.mark.parametrize("most", [1, 2, 3, 8, 100])
def test_transactions_are_small_and_a_row_is_with_its_signs(folder: Path, most: int) -> None:
    record = people(most_entries=most)
    assert send(record, folder, "--most-entries", str(most)) == cli.DONE
    posts = in_transactions(record)
    assert max(map(len, posts)) <= most
    (of_row,) = (each for each in posts if url_of("signed row") in each)
    if most >= 3:
        assert {url_of("spo2"), url_of("pulse")} <= set(of_row)
    assert len(kept(record)) == IN_ALL


def test_a_row_with_more_signs_than_a_transaction_may_have_comes_after_them() -> None:
    signs = [f"sign {n}" for n in range(9)]
    entries = [
        Entry(each["fullUrl"], "Observation", str(n), each["resource"], Place("x"))
        for n, each in enumerate([*(sign(s, ODILE) for s in signs), exercise("row", ODILE, *signs)])
    ]
    assert [len(each) for each in batches(entries, 8)] == [8, 2]


def test_a_server_that_takes_fewer_entries_gets_one_line_for_each_and_nothing_is_lost(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = people(most_entries=8)
    assert send(record, folder, "--most-entries", "9") == cli.DONE_WITH_ERRORS
    out, err = capsys.readouterr()
    assert "too many entries" in err
    assert "--most-entries" in err
    assert "left out" in out
    assert send(record, folder) == cli.DONE
    assert set(kept(record).values()) == {1}
    assert len(kept(record)) == IN_ALL


def tears(nth: int, *, after: bool) -> Callable[[Handler, Asked], bool]:
    """Tears the nth connection, before or after the server has done what it was asked."""
    count = 0

    def before(handler: Handler, asked: Asked) -> bool:
        nonlocal count
        count += 1
        if count != nth:
            return False
        if after:
            handler.record.answer(asked)
        handler.tear()
        return True

    return before


@pytest.mark.parametrize("keeps", [True, False], ids=["conditional", "unconditional"])
@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
def test_a_torn_connection_is_mended_whichever_it_is(
    folder: Path, capsys: pytest.CaptureFixture[str], *, after: bool, keeps: bool
) -> None:
    few = shift_of(ODILE)[10:]  # a row with two signs, and one of each other kind
    write(folder, *few)
    whole = people()
    send(whole, folder, "--most-entries", "4")
    assert len(in_transactions(whole)) > 1
    capsys.readouterr()
    for nth in range(1, len(whole.asked) + 1):
        record = people(before=tears(nth, after=after), keeps_if_none_exist=keeps)
        assert send(record, folder, "--most-entries", "4") == cli.DONE
        assert capsys.readouterr().out == f"{len(few)} sent\n"
        assert set(kept(record).values()) == {1}
        assert len(kept(record)) == len(few)


def test_a_server_that_stays_away_ends_it_with_one_line_and_the_rest_is_sent_the_next_time(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def goes_away(handler: Handler, _asked: Asked) -> bool:
        if len(handler.record.asked) > 10:
            handler.tear()
            return True
        return False

    record = people(before=goes_away)
    assert send(record, folder) == cli.NOTHING_PRODUCED
    err = capsys.readouterr().err
    assert len(err.splitlines()) == 1
    assert "there is no whole answer" in err
    assert 0 < len(kept(record)) < IN_ALL
    record.before = lambda _handler, _asked: False
    assert send(record, folder) == cli.DONE
    assert set(kept(record).values()) == {1}
    assert len(kept(record)) == IN_ALL


def test_a_server_that_makes_doubles_is_found(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It promises conditional create, and two senders at one time make two."""

    def twice(handler: Handler, asked: Asked) -> bool:
        if asked.method == "POST":
            handler.record.answer(asked)
        return False

    record = people(before=twice, keeps_if_none_exist=False)
    assert send(record, folder) == cli.DONE_WITH_ERRORS
    assert capsys.readouterr().err.count("the record has this 2 times") == IN_ALL
    assert send(record, folder) == cli.DONE_WITH_ERRORS
    assert set(kept(record).values()) == {2}  # no more of them


def test_somebody_who_sends_the_same_at_the_same_time_makes_no_double(folder: Path) -> None:
    def as_well(handler: Handler, asked: Asked) -> bool:
        if asked.method == "POST":
            handler.record.answer(asked)
        return False

    record = people(before=as_well)
    assert send(record, folder) == cli.DONE
    assert set(kept(record).values()) == {1}


@pytest.mark.parametrize("says_where", [True, False])
def test_what_the_server_took_and_does_not_have_is_found(
    folder: Path, capsys: pytest.CaptureFixture[str], *, says_where: bool
) -> None:
    def forgets(handler: Handler, asked: Asked) -> bool:
        if asked.method != "POST":
            return False
        answers = [
            {"response": {"status": "201 Created", "location": f"{each['request']['url']}/x{n}"}}
            for n, each in enumerate(asked.body["entry"])
        ]
        bundle = {"resourceType": "Bundle", "type": "transaction-response", "entry": answers}
        if not says_where:
            del bundle["entry"]
        return gives(json.dumps(bundle))(handler, asked)

    assert send(people(before=forgets), folder) == cli.DONE_WITH_ERRORS
    out, err = capsys.readouterr()
    unresolved = 0 if says_where else err.count("what this refers to could not be sent")
    assert err.count("does not have it now") + unresolved == IN_ALL
    assert out == f"{IN_ALL} left out\n"


def test_an_answer_without_addresses_is_enough(folder: Path) -> None:
    def bare(handler: Handler, asked: Asked) -> bool:
        if asked.method != "POST":
            return False
        handler.record.answer(asked)
        return gives("", status=200)(handler, asked)

    record = people(before=bare)
    assert send(record, folder) == cli.DONE
    assert len(kept(record)) == IN_ALL


@pytest.mark.parametrize("case", IN_DOUBT)
def test_nothing_is_sent_of_a_patient_who_may_be_another(
    folder: Path, capsys: pytest.CaptureFixture[str], case: str
) -> None:
    there, code = IN_DOUBT[case]
    record = Record()
    record.put(*there)
    assert send(record, folder) == cli.DONE_WITH_ERRORS
    out, err = capsys.readouterr()
    assert record.writes == []
    assert out == f"{IN_ALL} left out\n"
    assert len(err.splitlines()) == 1
    assert WORDS[code] in err


WORDS = {
    "send-nobody": "has nobody with this number",
    "send-several": "more than one patient with this number",
    "send-inactive": "inactive or replaced",
    "send-born": "another birth date",
    "send-name": "quite another name",
}


@pytest.mark.parametrize("name", ["LARKSPUR Ó.", "Larkspur-Finch, Odile", "odile"])
def test_a_name_is_alike_when_it_shares_a_word(folder: Path, name: str) -> None:
    record = Record()
    record.put(person("p1", "10442", name, "1958-04-02"))
    assert send(record, folder) == cli.DONE


def test_another_spelling_is_confirmed_by_number_and_a_birth_date_is_not(folder: Path) -> None:
    record = Record()
    record.put(person("p1", "10442", "Лариса", "1958-04-02"))
    assert send(record, folder, "--confirm", "10557") == cli.DONE_WITH_ERRORS
    assert send(record, folder, "--confirm", "10442") == cli.DONE
    record = Record()
    record.put(person("p1", "10442", "Odile Larkspur", "1958-04-20"))
    assert send(record, folder, "--confirm", "10442") == cli.DONE_WITH_ERRORS
    assert record.writes == []


def test_one_patient_in_doubt_does_not_keep_the_others_back(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tomas = patient("10557", "Fennimore, Tomas, born 1949-11-30")
    write(folder, exercise("toms", tomas), name="bed-2B.json")
    record = Record()
    record.put(person("p2", "10557", "Tomas Fennimore", "1949-11-30"))
    assert send(record, folder) == cli.DONE_WITH_ERRORS
    assert capsys.readouterr().out == f"1 sent, {IN_ALL} left out\n"
    assert list(kept(record)) == [number_of("toms")]


def test_what_differs_is_said_and_left_and_corrected_where_that_is_asked_for(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = people()
    send(record, folder)
    capsys.readouterr()
    write(folder, *shift_of(ODILE, ml=1250))
    assert send(record, folder) == cli.DONE_WITH_ERRORS
    out, err = capsys.readouterr()
    assert out == f"{IN_ALL - 2} there already, 2 left as the record has them\n"
    assert err.count("something else (valueQuantity.value: 1150, here 1250), and it is left") == 2
    assert the(record, "signed row")["valueQuantity"]["value"] == 1150
    assert send(record, folder, "--correct") == cli.DONE
    row = the(record, "signed row")
    assert (row["status"], row["valueQuantity"]["value"]) == ("corrected", 1250)
    assert row["hasMember"][0]["reference"].startswith("Observation/")
    assert send(record, folder, "--correct") == cli.DONE
    assert capsys.readouterr().out.splitlines()[-1] == ALL_THERE.strip()


def test_a_correction_keeps_what_others_have_put_beside_it(folder: Path) -> None:
    record = people()
    send(record, folder)
    row = the(record, "signed row")
    others = {"system": "urn:oid:2.999.5", "value": "7"}
    record.put(
        {
            **row,
            "identifier": [*row["identifier"], others],
            "meta": {**row["meta"], "tag": [{"code": "ward"}]},
        }
    )
    write(folder, *shift_of(ODILE, ml=1250))
    send(record, folder, "--correct")
    assert the(record, "signed row")["identifier"][1:] == [others]
    assert the(record, "signed row")["meta"]["tag"] == [{"code": "ward"}]


def test_what_somebody_changes_at_the_same_time_is_left(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = people()
    send(record, folder)
    write(folder, *shift_of(ODILE, ml=1250))

    def changes(handler: Handler, asked: Asked) -> bool:
        if asked.method == "PUT":
            handler.record.put(handler.record.answer(Asked("GET", asked.path, [], {}, None))[1])
        return False

    record.before = changes
    assert send(record, folder, "--correct") == cli.DONE_WITH_ERRORS
    assert capsys.readouterr().err.count("somebody changed this") == 2
    assert the(record, "signed row")["valueQuantity"]["value"] == 1150


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
def test_a_correction_over_a_torn_connection_is_made_once(folder: Path, *, after: bool) -> None:
    record = people()
    send(record, folder)
    write(folder, *shift_of(ODILE, ml=1250))
    torn: list[str] = []

    def tear_each(handler: Handler, asked: Asked) -> bool:
        if asked.method != "PUT" or asked.path in torn:
            return False
        torn.append(asked.path)
        if after:
            handler.record.answer(asked)
        handler.tear()
        return True

    record.before = tear_each
    assert send(record, folder, "--correct") == cli.DONE
    assert len(torn) == 2
    assert the(record, "signed row")["meta"]["versionId"] == "2"


def test_what_is_entered_in_error_is_never_touched(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = people()
    send(record, folder)
    record.put({**the(record, "signed row"), "status": "entered-in-error"})
    written = len(record.writes)
    write(folder, *shift_of(ODILE, ml=1250))
    capsys.readouterr()
    send(record, folder)
    out, err = capsys.readouterr()
    assert "this was entered in error" in err
    assert "2 left as the record has them" in out
    send(record, folder, "--correct")
    assert the(record, "signed row")["status"] == "entered-in-error"
    assert all(the(record, "signed row")["id"] not in each.path for each in record.writes[written:])


def test_what_the_record_has_under_another_patient_is_left(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = people()
    send(record, folder)
    moved = {**the(record, "row 3"), "subject": {"reference": "Patient/p2"}}
    record.put(moved)
    assert send(record, folder, "--correct") == cli.DONE_WITH_ERRORS
    assert "under another patient" in capsys.readouterr().err
    assert the(record, "row 3")["subject"] == {"reference": "Patient/p2"}


def test_a_flag_is_ended_when_its_matter_is_closed_and_is_not_begun_again(folder: Path) -> None:
    record = people()
    send(record, folder)
    entries = shift_of(ODILE)
    entries[-2]["resource"]["status"] = "inactive"
    assert send(record, write(folder, *entries)) == cli.DONE
    assert the(record, "flag", "Flag")["status"] == "inactive"
    assert send(record, write(folder, *shift_of(ODILE))) == cli.DONE_WITH_ERRORS
    assert the(record, "flag", "Flag")["status"] == "inactive"


def test_a_result_of_a_shift_that_was_still_running_is_brought_up_to_date(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = people()
    entries = shift_of(ODILE)
    entries[-3]["resource"]["status"] = "preliminary"
    send(record, write(folder, *entries))
    capsys.readouterr()
    entries = shift_of(ODILE)
    entries[-3]["resource"]["valueQuantity"]["value"] = 1300
    assert send(record, write(folder, *entries)) == cli.DONE
    assert capsys.readouterr().out == f"{IN_ALL - 1} there already, 1 brought up to date\n"
    best = the(record, "best volume")
    assert (best["status"], best["valueQuantity"]["value"]) == ("final", 1300)


def test_a_new_page_of_a_shift_replaces_the_one_before_it(folder: Path) -> None:
    record = people()
    send(record, write(folder, page("a sheet of yesterday", ODILE, "2026-03-05T23:00:00Z")))
    send(record, write(folder, *shift_of(ODILE)))
    send(record, write(folder, *shift_of(ODILE, sheet="another sheet")))
    of = {name: the(record, name, "DocumentReference") for name in ("a sheet", "another sheet")}
    assert of["a sheet"]["status"] == "superseded"
    assert of["another sheet"]["status"] == "current"
    target = {"reference": f"DocumentReference/{of['a sheet']['id']}"}
    assert of["another sheet"]["relatesTo"] == [{"code": "replaces", "target": target}]
    assert the(record, "a sheet of yesterday", "DocumentReference")["status"] == "current"


def test_what_is_gone_since_the_folder_before_is_marked(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = people()
    tomas = patient("10557", "Fennimore, Tomas, born 1949-11-30")
    older = write(folder.parent / "older", *shift_of(ODILE))
    write(older, exercise("toms", tomas), name="bed-2B.json")
    send(record, older)
    entries = [each for each in shift_of(ODILE) if each["fullUrl"] != url_of("row 4")]
    write(folder, *entries)
    capsys.readouterr()
    correct = ("--correct", "--before", str(older))
    assert send(record, folder, "--dry-run", *correct) == cli.DONE
    assert "2 to mark as entered in error" in capsys.readouterr().out
    assert the(record, "row 4")["status"] == "final"
    assert send(record, folder, *correct) == cli.DONE
    assert the(record, "row 4")["status"] == the(record, "toms")["status"] == "entered-in-error"
    assert the(record, "row 5")["status"] == "final"
    assert send(record, folder, *correct) == cli.DONE
    assert capsys.readouterr().out.splitlines()[-1] == f"{IN_ALL - 1} there already"


@pytest.mark.parametrize("kind", ["signs", "flags"])
def test_what_a_folder_was_made_without_is_not_gone(
    folder: Path, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    record = people()
    older = write(folder.parent / "older", *shift_of(ODILE), besides=("signs", "flags"))
    send(record, older)
    other = "flags" if kind == "signs" else "signs"
    write(folder, exercise("row 1", ODILE), page("later", ODILE), besides=(other,))
    written = len(record.writes)
    capsys.readouterr()
    assert send(record, folder, "--correct", "--before", str(older)) == cli.NOTHING_PRODUCED
    assert f"made --with {kind}" in capsys.readouterr().err
    assert len(record.writes) == written


def test_a_row_that_is_sent_without_its_signs_keeps_those_that_it_has(folder: Path) -> None:
    record = people()
    signed = (sign("spo2", ODILE), exercise("row", ODILE, "spo2"))
    send(record, write(folder, *signed, besides=("signs",)))
    members = the(record, "row")["hasMember"]
    write(folder, exercise("row", ODILE, ml=1250))
    assert send(record, folder, "--correct") == cli.DONE
    row = the(record, "row")
    assert (row["valueQuantity"]["value"], row["hasMember"]) == (1250, members)
    write(folder, exercise("row", ODILE, ml=1250), besides=("signs",))
    assert send(record, folder, "--correct") == cli.DONE
    assert "hasMember" not in the(record, "row")


def test_a_row_whose_time_was_mended_is_said_to_stand_there_twice(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record, sheet = people(), page("a sheet", ODILE)
    older = write(folder.parent / "older", exercise("at ten", ODILE), sheet)
    send(record, older)
    assert "stands in the record twice" not in capsys.readouterr().err
    write(folder, exercise("at eleven", ODILE), sheet)
    for more in (("--dry-run",), ()):
        assert send(record, folder, *more) == cli.DONE
        assert "of this shift that are not here: 1" in capsys.readouterr().err
    for _ in range(2):
        assert send(record, folder, "--correct", "--before", str(older)) == cli.DONE
        assert "are not here" not in capsys.readouterr().err
    assert the(record, "at ten")["status"] == "entered-in-error"


def test_a_folder_of_another_shift_marks_nothing(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = people()
    other = write(
        folder.parent / "older", exercise("x", ODILE), page("y", ODILE, "2026-03-05T23:00:00Z")
    )
    send(record, other)
    capsys.readouterr()
    written = len(record.writes)
    for before in (other, write(folder.parent / "none", exercise("x", ODILE))):
        assert send(record, folder, "--correct", "--before", str(before)) == cli.NOTHING_PRODUCED
        assert "not of one and the same shift" in capsys.readouterr().err
    assert len(record.writes) == written
    assert send(record, folder, "--before", str(other)) == cli.NOTHING_PRODUCED
    assert "add --correct" in capsys.readouterr().err


def broken(change: Callable[[Resource], object]) -> str:
    bundle = {
        "resourceType": "Bundle",
        "type": "transaction",
        "entry": [sign("s", ODILE), exercise("row", ODILE, "s")],
    }
    change(bundle)
    return json.dumps(bundle)


BROKEN = {
    "no-json": "{",
    "other": '{"resourceType": "Patient"}',
    "collection": broken(lambda bundle: bundle.update(type="collection")),
    "empty": broken(lambda bundle: bundle.update(entry=[])),
    "nested": '{"a":' + "[" * 5000 + "]" * 5000 + "}",
    "patient": broken(
        lambda bundle: bundle["entry"].append({"resource": person("p1", "1", "A", "1958-04-02")})
    ),
    "order": broken(lambda bundle: bundle["entry"].append(made("ServiceRequest", "o", ODILE))),
    "nobody": broken(lambda bundle: bundle["entry"][0]["resource"].pop("subject")),
    "by-path": broken(
        lambda bundle: bundle["entry"][0]["resource"].update(subject={"reference": "Patient/p2"})
    ),
    "two": broken(lambda bundle: bundle["entry"].append(sign("t", patient("10557")))),
    "born": broken(
        lambda bundle: bundle["entry"].append(sign("t", patient(who="Larkspur, born 1958-02-30")))
    ),
    "no-identity": broken(lambda bundle: bundle["entry"][0]["resource"].pop("identifier")),
    "search": broken(
        lambda bundle: bundle["entry"][0]["resource"]["identifier"][0].update(value="a,b|c&x=y")
    ),
    "order-of-entries": broken(lambda bundle: bundle["entry"].reverse()),
    "twice": broken(lambda bundle: bundle["entry"].append(sign("s", ODILE))),
    "shapes": broken(lambda bundle: bundle.update(entry={"a": [1]})),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_file_that_is_not_as_it_was_written_is_not_sent(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    folder = write(
        tmp_path / "fhir", exercise("toms", patient("10557", "Fennimore, born 1949-11-30"))
    )
    (folder / "broken.json").write_text(BROKEN[name])
    record = people()
    assert send(record, folder) == cli.DONE_WITH_ERRORS
    err = capsys.readouterr().err
    assert len(err.splitlines()) == 1
    assert "broken.json" in err
    assert list(kept(record)) == [number_of("toms")]


def test_two_files_of_one_patient_are_not_both_sent(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write(folder, exercise("another", ODILE), name="bed-9.json")
    record = people()
    assert send(record, folder) == cli.DONE_WITH_ERRORS
    assert "is about the same patient" in capsys.readouterr().err
    assert number_of("another") not in kept(record)


def test_a_folder_without_files_and_a_server_without_transactions_are_refused(
    tmp_path: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert send(people(), tmp_path) == cli.NOTHING_PRODUCED
    assert "nothing to send" in capsys.readouterr().err
    record = people()
    record.capabilities["rest"] = []
    assert send(record, folder) == cli.NOTHING_PRODUCED
    assert "it has transactions" in capsys.readouterr().err
    assert record.writes == []
    assert send(record, folder, "--dry-run") == cli.DONE


def test_the_token_is_sent_with_every_request(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HANDOFF_FHIR_TOKEN", "t0ken")
    record = people(token="t0ken")  # noqa: S106 - of no server
    assert send(record, folder) == cli.DONE
    assert {each.headers.get("Authorization") for each in record.asked} == {"Bearer t0ken"}


def test_more_time_than_is_allowed_ends_it_and_says_that_what_was_sent_stays(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def slow(_handler: Handler, asked: Asked) -> bool:
        if asked.method == "POST":
            time.sleep(1.5)
        return False

    assert send(people(before=slow), folder, "--max-seconds", "1") == cli.NOTHING_PRODUCED
    err = capsys.readouterr().err
    assert "What was sent stays" in err
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize("code", BAD_SENDINGS)
def test_what_goes_wrong_in_sending_is_found_at_the_entry(tmp_path: Path, code: str) -> None:
    found = [
        each for each in found_of_sending(tmp_path / "x", BAD_SENDINGS[code]) if each.code == code
    ]
    assert found
    assert all(each.place.line for each in found)
    assert all(text(each).isprintable() for each in found)
