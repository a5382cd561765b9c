"""What `sheets --fhir` writes: the ward's own part of each patient, ready to be sent."""

import base64
import hashlib
import json
import os
import re
from collections import Counter
from datetime import date
from errno import ENOSPC
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from handoff import portable
from handoff.cli import main as cli
from handoff.fhir.bundle import Sending, transaction
from handoff.fhir.outgoing import Identity, read_folder
from handoff.fhir.results import Findings
from handoff.model.matters import MatterState
from handoff.model.ward import Handover
from handoff.run.judged import Judged, judge_unit
from tests.support.builders import default_limits
from tests.support.fhir_oracles import all_find, shape_of
from tests.support.full_log import FULL
from tests.support.logs import hand_over, log_of
from tests.support.runs import WARD, content, sheets
from tests.support.samples import SHIFTS, checked, handed_over
from tests.support.written_bundles import SYSTEM, bundle_of, codes_of, default_codes, resources, the

Json = dict[str, Any]

# What is the record's own, and is never written for sending.
THE_RECORDS = {"Patient", "Encounter", "Location", "ServiceRequest", "Goal"}
SIGNS = {"2708-6", "9279-1", "8867-4", "8310-5", "72514-3", "on-oxygen", "oxygen", "symptoms"}


LATEST = WARD[-1:]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    out = tmp_path_factory.mktemp("ward") / "out"
    return sheets(out, *LATEST, "--fhir", SYSTEM, "--with", "signs,flags")


@pytest.fixture(scope="module")
def bundles(written: dict[str, bytes]) -> dict[str, Json]:
    return {
        name.removeprefix("fhir/").removesuffix(".json"): json.loads(each)
        for name, each in written.items()
        if name.startswith("fhir/")
    }


@cache
def ward() -> tuple[Handover, Judged]:
    handover = handed_over(*SHIFTS)
    return handover, judge_unit(handover, default_limits())


def sent(handover: Handover, *, signs: bool = True, flags: bool = True, which: int = 0) -> Json:
    """The Bundle of one patient, without pages."""
    judged = ward()[1] if handover is ward()[0] else judge_unit(handover, default_limits())
    patient = handover.patients[which]
    found = Findings(judged.measures.get(patient.id), judged.verdicts.get(patient.id))
    sending = Sending(default_codes(), SYSTEM, with_signs=signs, with_flags=flags)
    content = transaction(sending, handover, patient, found)
    assert content is not None
    bundle: Json = json.loads(content)
    return bundle


def full(text: str = FULL, as_of: str | None = None) -> Handover:
    return hand_over(log_of(text), as_of=as_of)


def test_each_patient_has_a_bundle_by_the_name_of_the_sheet(
    written: dict[str, bytes], bundles: dict[str, Json]
) -> None:
    named = {Path(name).stem for name in written if name.startswith("patients/")}
    assert named <= bundles.keys()
    # Two who left, and two without an order, have no sheet.
    assert len(bundles) - len(named) == 4


def test_the_rest_of_the_set_is_the_same_without_it_and_bundles_are_the_same_again(
    written: dict[str, bytes], tmp_path: Path
) -> None:
    plain = sheets(tmp_path / "out", *reversed(LATEST))
    assert {name: each for name, each in written.items() if "fhir/" not in name} == plain
    handover, number = full(), len(resources(sent(full())))
    assert sent(handover) == sent(handover)
    assert number > 20


def test_nothing_of_the_records_own_is_in_it_but_references(bundles: dict[str, Json]) -> None:
    for bundle in bundles.values():
        kinds = {each["resourceType"] for each in resources(bundle)}
        assert kinds.isdisjoint(THE_RECORDS)
        there = {each["fullUrl"] for each in bundle["entry"]} | {"#device"}
        text = json.dumps(bundle)
        assert set(re.findall(r'"reference": "([^"]*)"', text)) <= there
        subjects = {json.dumps(each["subject"]) for each in resources(bundle)}
        assert len(subjects) == 1
    subject = resources(bundles["bed-12A"])[0]["subject"]
    assert subject == {
        "type": "Patient",
        "identifier": {"system": SYSTEM, "value": "10361"},
        "display": "Ståhlbrand, Ignatia, born 1953-10-08",
    }


def test_each_entry_is_made_only_where_its_identity_is_not_there(bundles: dict[str, Json]) -> None:
    entries = [entry for bundle in bundles.values() for entry in bundle["entry"]]
    addresses = [each["fullUrl"] for each in entries]
    assert len(set(addresses)) == len(addresses) > 500
    for entry in entries:
        (own,) = entry["resource"]["identifier"]
        assert entry["request"] == {
            "method": "POST",
            "url": entry["resource"]["resourceType"],
            # Without a question mark: hl7.org/fhir/R4/bundle-definitions.html, ifNoneExist
            "ifNoneExist": f"identifier={own['system']}|{own['value']}",
        }


def test_whoever_sends_it_finds_the_patient_and_every_resource_in_it(
    bundles: dict[str, Json], tmp_path: Path
) -> None:
    for name, each in bundles.items():
        (tmp_path / f"{name}.json").write_text(json.dumps(each), encoding="utf-8")
    outgoing, findings = read_folder(str(tmp_path), default_codes().systems["rows"])
    assert findings == []
    assert len(outgoing) == len(bundles)
    for one in outgoing:
        bundle = bundles[Path(one.file).stem]
        assert {each.url for each in one.entries} == {each["fullUrl"] for each in bundle["entry"]}
    (mine,) = (each.patient for each in outgoing if each.file.endswith("bed-12A.json"))
    assert mine == Identity(SYSTEM, "10361", "Ståhlbrand, Ignatia", date(1953, 10, 8))


def test_the_signs_of_a_row_stand_before_it(bundles: dict[str, Json]) -> None:
    for bundle in bundles.values():
        seen: set[str] = set()
        for entry in bundle["entry"]:
            named = entry["resource"].get("hasMember", [])
            assert {each["reference"] for each in named} <= seen
            seen.add(entry["fullUrl"])


def test_no_oracle_finds_anything_in_it(bundles: dict[str, Json]) -> None:
    shapes = {
        repr((each["resourceType"], shape_of(each))): each
        for bundle in bundles.values()
        for each in resources(bundle)
    }
    assert len(shapes) > 60
    assert [found for each in shapes.values() for found in all_find(each)] == []
    short = {**bundles["bed-12A"], "entry": bundles["bed-12A"]["entry"][:2]}
    assert all_find(short) == []


def test_the_pages_are_in_it_as_they_are_printed(
    written: dict[str, bytes], bundles: dict[str, Json]
) -> None:
    going_home = {Path(name).stem for name in written if name.startswith("discharge/")}
    for name, bundle in bundles.items():
        pages = resources(bundle, "DocumentReference")
        attached = {min(codes_of(each)): each["content"][0]["attachment"] for each in pages}
        files = {"28651-8": f"patients/{name}.pdf", "74213-0": f"discharge/{name}.pdf"}
        assert attached.keys() == {code for code, file in files.items() if file in written}
        assert ("74213-0" in attached) == (name in going_home)
        for code, page in attached.items():
            pdf = written[files[code]]
            assert base64.b64decode(page["data"]) == pdf
            assert page["size"] == len(pdf)
            # SHA-1, as hl7.org/fhir/R4/datatypes.html#attachment has it
            assert base64.b64decode(page["hash"]) == hashlib.sha1(pdf).digest()  # noqa: S324
    assert {each["docStatus"] for each in resources(bundles["bed-12A"], "DocumentReference")} == {
        "preliminary"
    }


def test_signs_and_flags_are_written_only_when_they_are_asked_for() -> None:
    handover = full()
    plain, with_both = sent(handover, signs=False, flags=False), sent(handover)
    plain_codes = {code for each in resources(plain) for code in codes_of(each)}
    assert plain_codes.isdisjoint(SIGNS | {"seen"})
    assert not resources(plain, "Flag")
    assert {code for each in resources(with_both) for code in codes_of(each)} >= SIGNS | {"seen"}
    assert resources(with_both, "Flag")
    tags = [each["code"] for each in with_both["meta"]["tag"]]
    assert (tags, "meta" in plain) == (["signs", "flags"], False)
    kept = {each["fullUrl"] for each in plain["entry"]}
    assert kept < {each["fullUrl"] for each in with_both["entry"]}


def test_every_row_of_the_shift_is_in_it_and_none_of_an_earlier_one() -> None:
    handover, _ = ward()
    log = next(each for each in handover.logs if each.shift == handover.shift)
    rows = Counter(each.patient_id for each in log.entries)
    for number, patient in enumerate(handover.patients):
        bundle = sent(handover, flags=False, which=number)
        anchors = [
            each
            for each in resources(bundle)
            if codes_of(each)
            & {"exercise", "away", "asleep", "declined", "told", "held", "resumed", "settled"}
            | codes_of(each) & {"left", "note", "seen"}
        ]
        assert len(anchors) == rows[patient.id]


def test_a_row_after_the_time_that_is_handed_over_waits_for_the_next() -> None:
    earlier = full(as_of="2026-03-07 22:00")
    now = {each["fullUrl"] for each in sent(earlier, flags=False)["entry"]}
    assert now < {each["fullUrl"] for each in sent(full(), flags=False)["entry"]}
    best = the(sent(earlier), "Observation", "best-volume")
    assert (best["status"], best["effectivePeriod"]["end"]) == (
        "preliminary",
        "2026-03-08T02:00:00Z",
    )


def test_results_are_the_measures_with_their_definition_and_their_rows() -> None:
    handover = full()
    judged = judge_unit(handover, default_limits())
    bundle, measures = sent(handover), judged.measures["10442"]
    adherence = the(bundle, "Observation", "adherence")
    assert adherence["valueQuantity"]["value"] == measures.adherence.percent
    parts = {
        codes_of(each).pop(): each["valueQuantity"]["value"] for each in adherence["component"]
    }
    assert parts == {
        "breaths-done": 8,
        "breaths-due": measures.adherence.breaths_due,
        "spans-due": measures.adherence.slots_due,
        "spans-met": measures.adherence.slots_met,
        "spans-not-charted": measures.adherence.slots_uncharted,
    }
    assert adherence["method"]["text"].startswith("Breaths done, span by span")
    best = the(bundle, "Observation", "best-volume")
    assert (best["valueQuantity"]["value"], best["valueQuantity"]["code"]) == (1100, "mL")
    row = next(each for each in bundle["entry"] if "exercise" in codes_of(each["resource"]))
    assert best["derivedFrom"] == [{"reference": row["fullUrl"]}]
    percent = the(bundle, "Observation", "percent-of-goal")["valueQuantity"]["value"]
    assert percent == pytest.approx(100 * 1100 / 1500)


def test_a_result_that_there_is_none_of_says_so() -> None:
    bundle = sent(full())
    trend = the(bundle, "Observation", "trend")
    assert "valueQuantity" not in trend
    assert trend["dataAbsentReason"]["coding"][0]["code"] == "not-applicable"
    assert [codes_of(each).pop() for each in trend["component"]] == ["trend-points"]


def test_a_row_of_an_earlier_shift_is_named_by_the_identity_it_was_sent_with() -> None:
    handover, judged = ward()
    number, measures = next(
        (number, each)
        for number, patient in enumerate(handover.patients)
        if (each := judged.measures.get(patient.id)) and each.trend.n > 1
    )
    trend = the(sent(handover, which=number), "Observation", "trend")
    assert len(trend["derivedFrom"]) == measures.trend.n
    named = {each["identifier"]["value"] for each in trend["derivedFrom"] if "identifier" in each}
    collected = [bundle_of(checked(each)) for each in SHIFTS[:-1]]
    known = {each["identifier"][0]["value"] for bundle in collected for each in resources(bundle)}
    assert named
    assert named <= known


def test_a_trend_with_a_direction_has_its_slope() -> None:
    handover, judged = ward()
    clear = [
        (number, each.trend.slope_ml_per_day)
        for number, patient in enumerate(handover.patients)
        if (each := judged.measures.get(patient.id))
        and each.trend.is_given(fell=judged.verdicts[patient.id].fell)
    ]
    assert clear
    for number, slope in clear:
        trend = the(sent(handover, which=number), "Observation", "trend")
        assert (trend["valueQuantity"]["value"], trend["valueQuantity"]["code"]) == (slope, "mL/d")


def test_a_flag_stands_for_each_danger_and_is_inactive_when_it_is_closed() -> None:
    handover, judged = ward()
    states: Counter[str] = Counter()
    for number, patient in enumerate(handover.patients):
        verdicts = judged.verdicts.get(patient.id)
        if verdicts is None:
            continue
        flags = resources(sent(handover, which=number), "Flag")
        states.update(each["status"] for each in flags)
        status = {each["code"]["coding"][0]["code"]: each["status"] for each in flags}
        closed = {each.name for each in verdicts.matters if each.state is MatterState.CLOSED}
        assert {name for name, each in status.items() if each == "inactive"} == closed
        still = {each.name for each in verdicts.matters if each.is_open}
        assert still <= {name for name, each in status.items() if each == "active"}
        for flag in flags:
            urls = {each["url"] for each in flag.get("extension", ())}
            assert urls <= {"http://hl7.org/fhir/StructureDefinition/flag-detail"}
    assert states["active"] > 10
    assert states["inactive"] >= 1


def test_a_danger_of_another_stay_has_another_flag() -> None:
    """Else one that was closed in an earlier stay would stand for it, inactive."""
    again = FULL.replace("start: 2026-03-06 10:00, stop", "start: 2026-03-07 10:00, stop")
    flags = [
        {each["identifier"][0]["value"]: each["code"]["text"] for each in resources(one, "Flag")}
        for one in (sent(full()), sent(full(again)))
    ]
    assert flags[0].keys().isdisjoint(flags[1])
    assert set(flags[0].values()) & set(flags[1].values())


def test_a_patient_without_an_order_has_the_rows_and_no_result() -> None:
    text = FULL.replace("  order: {start: 2026-03-07 08:00}\n", "").replace(
        "what: left", "what: note"
    )
    bundle = sent(full(text), which=1)
    assert the(bundle, "Observation", "note")
    assert not resources(bundle, "Observation", "adherence")


def test_of_a_patient_who_left_the_row_that_says_so_is_sent(tmp_path: Path) -> None:
    log = tmp_path / "night.yaml"
    log.write_text(FULL, encoding="utf-8")
    files = sheets(tmp_path / "out", str(log), "--fhir", SYSTEM)
    assert {each for each in files if "fhir/" in each} == {"fhir/bed-12A.json", "fhir/bed-12B.json"}
    left = the(json.loads(files["fhir/bed-12B.json"]), "Observation", "left")
    assert left["valueString"] == "to ward 4"


def test_a_bundle_that_cannot_be_written_leaves_the_earlier_set(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    out = str(tmp_path / "out")
    assert cli.main(["sheets", WARD[0], "--out", out]) == cli.DONE
    before = content(tmp_path / "out")
    open_owners = portable.open_owners

    def full_disk(path: Path, flags: int) -> int:
        if path.parent.name == "fhir":
            raise OSError(ENOSPC, os.strerror(ENOSPC))
        return open_owners(path, flags)

    monkeypatch.setattr(portable, "open_owners", full_disk)
    arguments = ["sheets", WARD[0], "--out", out, "--fhir", SYSTEM]
    assert cli.main(arguments) == cli.NOTHING_PRODUCED
    assert "Nothing was changed" in capsys.readouterr().err
    assert content(tmp_path / "out") == before


def test_what_else_is_sent_wants_the_exchange(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["sheets", WARD[0], "--out", str(tmp_path / "out"), "--with", "signs"]
    assert cli.main(arguments) == cli.NOTHING_PRODUCED
    assert "give --fhir too" in capsys.readouterr().err


def test_an_error_in_the_units_own_codes_ends_it_before_anything_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    codes = tmp_path / "codes.yaml"
    codes.write_text("concepts: {spirometry: {read: loinc 1-8}}\n", encoding="utf-8")
    options = ["--fhir", SYSTEM, "--fhir-codes", str(codes)]
    code = cli.main(["sheets", WARD[0], "--out", str(tmp_path / "out"), *options])
    assert code == cli.NOTHING_PRODUCED
    assert "codes.yaml:1 spirometry: `spirometry` is not known here." in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "arguments", [["--fhir", "10442"], ["--fhir", "a b:c"], ["--fhir", SYSTEM, "--with", "all"]]
)
def test_an_argument_of_another_form_is_a_wrong_usage(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main(["sheets", WARD[0], "--out", str(tmp_path / "out"), *arguments])
    assert ended.value.code == cli.NOTHING_PRODUCED
    assert "argument --" in capsys.readouterr().err
