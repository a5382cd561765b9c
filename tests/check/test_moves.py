"""A patient moved to another bed: read as a move where every row agrees with it, else not known."""

from collections import Counter
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handoff.model.findings import Severity
from handoff.model.ward import Log
from tests.support.bad_logs import HEADER, IN_OPTIONS, PATIENT, WHO, night, table
from tests.support.how_many import few
from tests.support.logs import check_text, found_in, hand_over, log_of
from tests.support.sheets import patient_page, patient_pdf, read_pdf, unit_page

MOSS = '10557,"Moss, Bryn",1949-07-30,'


def row(at: str, bed: str, who: str = WHO, breaths: int = 8) -> str:
    """A row of Odile Larkspur's, or of `who`, in a bed."""
    name = who.rpartition(",12A")[0] + "," if "12A" in who else who
    return f"{name}{bed},2026-03-06 10:00,{at},,,{breaths},,,\n"


def csv_log(*rows: str) -> Log:
    return log_of(table(*rows), "night.csv", IN_OPTIONS)


def beds(log: Log) -> dict[str, str]:
    return {patient.id: patient.bed for patient in log.patients}


def test_a_later_bed_is_used_and_both_are_named() -> None:
    log = csv_log(row("19:40", "12A"), row("20:40", "12a"), row("21:40", ""), row("23:10", "14"))
    assert beds(log) == {"10442": "14"}
    (found,) = log.findings
    assert (found.code, found.field, found.severity) == ("bed-changed", "bed", Severity.WARNING)
    assert (found.place.line, found.raw, found.related[0].line) == (5, "14", 2)
    assert all(fact in found.message for fact in ("12A", "2026-03-07 23:10", "bed 14"))
    assert log.counts.used == 4


def test_a_move_is_printed_beside_the_bed_and_in_the_row_of_the_summary() -> None:
    handed = hand_over(csv_log(row("19:40", "12A"), row("21:40", "14"), row("23:40", "3")))
    assert patient_page(handed).identity.moved == "moved from 12A, 14 by 23:40"
    assert "moved from 12A, 14 by 23:40" in " ".join(
        read_pdf(patient_pdf(patient_page(handed))).pages[0].split()
    )
    (summed,) = unit_page(handed).rows
    assert summed.alerts == ("moved from 12A, 14 by 23:40",)


def test_of_who_stayed_and_of_a_bed_that_is_not_known_no_move_is_printed() -> None:
    stayed = hand_over(csv_log(row("19:40", "12A"), row("21:40", "12A")))
    unknown = hand_over(csv_log(row("19:40", "12A"), row("20:40", "14"), row("21:40", "12A")))
    for handed, bed in ((stayed, "12A"), (unknown, "disputed: 12A or 14")):
        page = patient_page(handed)
        assert (page.identity.bed, page.identity.moved) == (bed, "")
        (summed,) = unit_page(handed).rows
        assert (summed.bed, summed.alerts) == (bed, ())


def test_two_files_of_one_shift_keep_a_move_whose_last_bed_both_say() -> None:
    mine = csv_log(row("19:40", "12A"), row("21:40", "14"))
    for bed, moved in (("14", "moved from 12A by 21:40"), ("12A", "")):
        yours = log_of(table(row("22:40", bed, breaths=7)), "other.csv", IN_OPTIONS)
        (patient,) = hand_over(mine, yours).patients
        assert patient.bed == (bed if moved else "")
        assert patient_page(hand_over(mine, yours)).identity.moved == moved


def test_of_a_move_that_two_files_tell_the_earlier_time_is_printed() -> None:
    mine = csv_log(row("19:40", "12A"), row("21:40", "14"))
    later = table(row("20:10", "12A", breaths=7), row("22:40", "14", breaths=7))
    yours = log_of(later, "other.csv", IN_OPTIONS)
    for logs in ((mine, yours), (yours, mine)):
        assert patient_page(hand_over(*logs)).identity.moved == "moved from 12A by 21:40"


def test_a_second_move_is_named_too() -> None:
    log = csv_log(row("19:40", "12A"), row("21:40", "14"), row("23:40", "3"))
    assert beds(log) == {"10442": "3"}
    assert found_in(log.findings) == [(3, "bed", "bed-changed"), (4, "bed", "bed-changed")]


@pytest.mark.parametrize(
    "rows",
    [
        [row("19:40", "12A"), row("20:40", "14"), row("21:40", "12A")],
        [row("19:40", "12A"), row("19:40", "14", breaths=9)],
        [row("19:40", "12A"), row("soon", "14")],
        [row("", "12A"), row("20:40", "14")],
        [row("19:40", "12A"), row("2027-03-07 20:40", "14")],
    ],
    ids=["back again", "at one time", "no known time", "no entry", "far from the shift"],
)
def test_beds_that_do_not_follow_each_other_are_not_known(rows: list[str]) -> None:
    log = csv_log(*rows)
    assert beds(log) == {"10442": ""}
    codes = {each.code for each in log.findings}
    assert "patient-disagrees" in codes
    assert "bed-changed" not in codes


def test_a_row_whose_cells_may_be_in_wrong_columns_moves_nobody() -> None:
    log = csv_log(row("19:40", "12A"), row("20:40", "14").replace("\n", ",x\n"))
    assert beds(log) == {"10442": "12A"}
    assert [each.code for each in log.findings] == ["long-row"]


def test_rows_without_a_time_do_not_stand_against_a_move() -> None:
    log = csv_log(row("", "12A"), row("19:40", "12A"), row("23:40", "14"), row("soon", "14"))
    assert beds(log) == {"10442": "14"}


def test_two_who_change_places_are_in_no_bed_together() -> None:
    log = csv_log(
        row("19:40", "12A"),
        row("19:45", "14", MOSS),
        row("23:40", "14"),
        row("23:55", "12A", MOSS),
    )
    assert beds(log) == {"10442": "14", "10557": "12A"}
    assert {each.code for each in hand_over(log).findings} == {"bed-changed", "order-not-stated"}


def test_a_row_that_may_be_the_neighbours_is_no_move() -> None:
    """Odile Larkspur's id slipped into a row of the patient who is in bed 14 all night."""
    for slipped, own in (("19:30", "01:10"), ("23:40", "01:10"), ("01:10", "23:40")):
        log = csv_log(row("19:20", "12A"), row(slipped, "14"), row(own, "14", MOSS))
        assert beds(log) == {"10442": "", "10557": "14"}
        assert [each.code for each in log.findings] == ["patient-disagrees"]


def test_into_a_bed_that_another_has_left_is_a_move() -> None:
    log = csv_log(
        row("19:40", "14", MOSS), row("20:40", "3", MOSS), row("19:50", "12A"), row("21:40", "14")
    )
    assert beds(log) == {"10442": "14", "10557": "3"}
    early = csv_log(
        row("19:40", "14", MOSS), row("22:40", "3", MOSS), row("19:30", "12A"), row("19:35", "14")
    )
    assert beds(early) == {"10442": "", "10557": "3"}


def test_into_a_bed_whose_patient_has_gone_home_is_a_move() -> None:
    """The bed is given away in the same night; who was in it is still in this log."""
    gone = row("20:40", "14", MOSS).replace(",,,8,", ",,left,,")
    told = row("21:50", "14", MOSS).replace(",,,8,", ",,told,,")
    here = row("19:50", "12A"), row("21:40", "14")
    stayed = row("20:30", "14", MOSS)
    assert beds(csv_log(stayed, gone, told, *here))["10442"] == "14"
    still_there = row("21:45", "14", MOSS)
    assert beds(csv_log(stayed, gone, still_there, *here))["10442"] == ""


def test_out_of_a_bed_that_another_comes_to_is_a_move() -> None:
    log = csv_log(row("19:40", "12A"), row("21:40", "14"), row("22:40", "12A", MOSS))
    assert beds(log) == {"10442": "14", "10557": "12A"}
    assert {each.code for each in hand_over(log).findings} == {"bed-changed", "order-not-stated"}


def test_of_an_id_that_stands_for_two_people_no_bed_is_told() -> None:
    log = csv_log(row("19:40", "12A"), row("20:40", "14").replace("Odile", "Ottilie"))
    assert "bed-changed" not in {each.code for each in log.findings}
    assert log.patients == ()


def test_yaml_says_one_bed_and_no_time() -> None:
    log, findings = check_text(night(patients=PATIENT + PATIENT.replace("12A", "14")))
    assert log is not None
    assert beds(log) == {"10442": ""}
    assert [each.code for each in findings] == ["patient-disagrees"]


def test_lists_of_two_files_of_one_shift_say_no_time() -> None:
    mine = log_of(night(), "a.yaml")
    yours = log_of(night("", PATIENT.replace("12A", "14")), "b.yaml")
    (patient,) = hand_over(mine, yours).patients
    assert patient.bed == ""


ROWS = st.lists(
    st.tuples(
        st.sampled_from(["19:40", "20:40", "21:40", "22:40", "soon", ""]),
        st.sampled_from(["12A", "14", "3", ""]),
        st.sampled_from([WHO, MOSS]),
    ),
    min_size=2,
    max_size=6,
)


@settings(max_examples=few(50), deadline=None)
@given(ROWS, st.randoms(use_true_random=False))
def test_the_order_of_the_rows_does_not_matter(
    told: list[tuple[str, str, str]], random: Random
) -> None:
    rows = [row(at, bed, who) for at, bed, who in told]
    shuffled = list(rows)
    random.shuffle(shuffled)
    both = [check_text(HEADER + "".join(each), "n.csv", IN_OPTIONS)[0] for each in (rows, shuffled)]
    one, other = both
    assert one is not None
    assert other is not None
    assert beds(one) == beds(other)
    codes = [Counter(each.code for each in log.findings) for log in (one, other)]
    assert codes[0] == codes[1]


@settings(max_examples=120, deadline=None)
@given(ROWS)
def test_nobody_is_moved_to_a_bed_that_another_is_in(told: list[tuple[str, str, str]]) -> None:
    log = csv_log(*(row(at, bed, who) for at, bed, who in told))
    moved = {each.raw for each in log.findings if each.code == "bed-changed"}
    shared = Counter(bed for bed in beds(log).values() if bed)
    assert all(shared[str(bed)] <= 1 for bed in moved)
