"""One person under two ids: both sheets say so, nothing is merged, a finding says what to write."""

from datetime import date

import pytest

from handoff.log.names import id_key, person_keys
from handoff.measure import measure
from handoff.model.findings import text
from handoff.model.ward import Handover, Patient
from tests.support.bad_logs import IN_OPTIONS, ROW, table
from tests.support.builders import patient
from tests.support.logs import check_text, hand_over, log_of
from tests.support.sheets import sheet_words
from tests.support.wards import EAST, ID, NOBODY, WEST, ids, log, one_unit, ordered, row, units

AT_THE_TOP = "TWO IDS? Perhaps also in the logs under another id, not counted here"


def found(handover: Handover) -> list[tuple[str, str | None]]:
    """The file and the id of each finding of this kind."""
    return [(each.place.file, each.raw) for each in handover.findings if each.code == "two-ids"]


@pytest.mark.parametrize(
    ("wrong", "right"),
    [
        ("718", "00718"),
        ("00718 ", "00718"),
        ("00718\u200b", "00718"),
        ("c718", "C718"),
        ("10424", ID),
        ("1044", ID),
        ("9", ID),
    ],
    ids=["zeros", "space", "no width", "case", "exchanged", "one less", "quite another"],
)
def test_one_person_under_two_ids_in_two_logs(wrong: str, right: str) -> None:
    """Two logs have the right id, and the latest another one."""
    good = ordered().replace(ID, right)
    history = [
        log(name, row(f"{name[0]} 12:00", patient=right), good + NOBODY)
        for name in ("4 day", "5 day")
    ]
    bad = ordered().replace(ID, wrong.replace("\u200b", "\\u200B"))
    handover = one_unit(*history, log("6 day", patients=bad + NOBODY))
    (listed,) = (each for each in handover.patients if each.id != "99")
    if wrong.startswith(right):  # spaces at the end, also of no width, are no part of an id
        assert (listed.id, found(handover)) == (right, [])
        return
    assert found(handover) == [(f"{EAST}, 6 day.yaml", wrong)]
    (finding,) = (each for each in handover.findings if each.code == "two-ids")
    assert f"Did you mean {right}?" in text(finding)
    assert f"{AT_THE_TOP} (bed 12A, to 5 Mar 19:00)" in sheet_words(handover, listed.id)
    assert measure(handover)[listed.id].volume.first_ml is None


def test_where_both_are_on_the_list_both_sheets_say_so() -> None:
    both = ordered() + ordered().replace(ID, "10424").replace("12A", "5")
    handover = one_unit(log("5 day", row("09:00"), both))
    assert f"{AT_THE_TOP} (bed 5" in sheet_words(handover, ID)
    assert f"{AT_THE_TOP} (bed 12A" in sheet_words(handover, "10424")
    assert handover.name_alerts == {}
    assert [raw for _, raw in found(handover)] == ["10424"]


def test_on_two_units_under_two_ids_both_sheets_say_so() -> None:
    handovers = units(
        log("4 night", row("4 20:00"), ordered().replace(ID, "00718")),
        log("5 day", row("09:00"), ordered().replace(ID, "718"), WEST),
    )
    assert f"{AT_THE_TOP} ({WEST}, bed 12A" in sheet_words(handovers[EAST], "00718")
    assert f"{AT_THE_TOP} ({EAST}, bed 12A, to 5 Mar 07:00)" in sheet_words(handovers[WEST], "718")
    assert found(handovers[EAST]) == []
    assert found(handovers[WEST]) == [(f"{WEST}, 5 day.yaml", "718")]


def test_an_id_that_is_right_on_two_units_is_told_on_each() -> None:
    """The right id came from West; East has it too, and another one beside it."""
    wrong = ordered().replace(ID, "10424").replace("12A", "5")
    handovers = units(
        log("4 night", row("4 20:00"), unit=WEST), log("5 day", row("09:00"), ordered() + wrong)
    )
    for patient_id in (ID, "10424"):
        assert AT_THE_TOP in sheet_words(handovers[EAST], patient_id)
    assert found(handovers[EAST]) == [(f"{EAST}, 5 day.yaml", "10424")]
    assert "similar-names" not in {each.code for each in handovers[EAST].findings}


@pytest.mark.parametrize("twin", ["Larkspur, Ottilie", "Larkspur, Odilo"])
def test_twins_are_two_people_and_told_apart_by_their_first_names(twin: str) -> None:
    other = ordered().replace(ID, "10443").replace("Larkspur, Odile", twin).replace("12A", "5")
    handover = one_unit(log("5 day", row("09:00"), ordered() + other))
    assert found(handover) == []
    assert AT_THE_TOP not in sheet_words(handover, ID)
    fixes = {each.fix for each in handover.findings if each.code == "similar-names"}
    assert fixes == {"Check the id and the first name each time: the birth date is the same."}


def test_the_mending_of_a_slip_makes_no_phantom_patient_who_keeps_the_reading() -> None:
    """A row's id has a slip, its name and birth date are blank. Who adds them, as the finding says
    for another patient, is told that it is the same person.
    """
    rest = ",,,12A,,20:40,,,8,1100,,\n"
    _, findings = check_text(table(ROW, f"10424{rest}"), "night.csv", IN_OPTIONS)
    hints = [each.fix for each in findings if "Did you mean 10442?" in each.fix]
    assert len(hints) == len(findings) == 2
    assert all(each.startswith("Correct the id") for each in hints)
    typed = '10424,"Larkspur, Odile",1958-04-02,12A,,20:40,,,8,1100,,\n'
    phantom = hand_over(log_of(table(ROW, typed), "night.csv", IN_OPTIONS))
    assert ids(phantom) == (["10424", ID], [])
    (finding,) = (each for each in phantom.findings if each.code == "two-ids")
    assert (finding.raw, finding.place.line) == ("10424", 3)
    assert finding.fix.endswith("Did you mean 10442?")
    mended = hand_over(log_of(table(ROW, typed.replace("10424", ID)), "night.csv", IN_OPTIONS))
    assert found(mended) == []
    assert ids(mended) == ([ID], [])


def seem_one(one: Patient, other: Patient) -> bool:
    return not person_keys(one).isdisjoint(person_keys(other))


def test_an_id_alone_makes_nobody_the_same_person() -> None:
    def person(patient_id: str, name: str, born: date | None = None) -> Patient:
        return patient(id=patient_id, name=name, born=born)

    born = date(1958, 4, 2)
    odile = person(ID, "Larkspur, Odile", born)
    assert seem_one(odile, person("7", "odile LARKSPUR", born))
    assert seem_one(odile, person("0" + ID, "Larkspur, Odile", date(1985, 4, 2)))
    assert not seem_one(odile, person("10443", "Larkspur, Odile", date(1985, 4, 2)))
    assert not seem_one(odile, person("10443", "Moss, Bryn", born))
    assert not seem_one(person("1", ""), person("01", ""))
    assert id_key("0") == "0"


def test_of_many_ids_of_one_name_each_is_compared_with_the_likeliest_alone() -> None:
    people = "".join(ordered().replace(ID, f"{number:05}") for number in range(1, 200))
    handover = hand_over(log("5 day", patients=people))
    assert len(found(handover)) == 198
    assert sorted(map(len, handover.other_ids.values())) == [1] * 198 + [198]
