"""What changed since the hand-over before: found from the earlier logs, and said so."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from handoff.compose.patient import CHANGES
from handoff.gather import gather
from handoff.judge.since import ORDERED, find_changes
from handoff.limits.reading import Limits
from handoff.model.changes import Changes, OrderChanges, Since
from handoff.model.matters import Matter, MatterState
from handoff.model.ward import Earlier, Entry, Handover, Log, Order, Patient, Shift, Symptom
from handoff.run.judged import judge_unit
from tests.support.bad_logs import OTHER, PATIENT, night, shift
from tests.support.builders import (
    SHIFT_BEFORE,
    at,
    default_limits,
    entry,
    handover,
    order,
    patient,
)
from tests.support.how_many import few
from tests.support.logs import NOW, log_of
from tests.support.random_handovers import handovers
from tests.support.random_pages import GRAVEST_ALERTED
from tests.support.samples import SHIFTS, handed_over
from tests.support.sheets import paragraph, patient_page, patient_pdf, read_pdf, unit_page, words

ORDERED_BEFORE = order("-1 08:00", goal_ml=2000)
LISTED = patient(order=ORDERED_BEFORE)


def after_a_night(
    *entries: Entry,
    then: Patient | None = LISTED,
    now: Patient = LISTED,
    as_of: str | None = None,
) -> Handover:
    """The day shift's hand-over of one patient, `then` as the night's log had them."""
    given = handover(*entries, patients=(now,), as_of=as_of)
    known = {} if then is None else {then.id: then}
    return replace(given, earlier=Earlier(SHIFT_BEFORE, known))


def since(given: Handover, limits: Limits | None = None) -> Since | None:
    judged = judge_unit(given, limits or default_limits())
    return find_changes(given, judged.measures, judged.verdicts)


def changes(given: Handover, limits: Limits | None = None) -> Changes:
    """What changed of the hand-over's first patient."""
    found = since(given, limits)
    assert found is not None
    return found.patients[given.patients[0].id]


def names(matters: tuple[Matter, ...]) -> list[str]:
    return [matter.name for matter in matters]


def situation(given: Handover) -> str:
    return paragraph(patient_page(given), "Situation")


# Nothing


def test_without_an_earlier_shift_nothing_is_known_and_nothing_is_said() -> None:
    given = handover(entry("09:00", spo2=85))
    assert since(given) is None
    assert "hand-over" not in situation(given)
    (section,) = (each for each in unit_page(given).after if "hand-over" in each.title)
    assert section.lines == ()


def test_where_nothing_changed_the_sheet_says_so() -> None:
    given = after_a_night(entry("-1 20:00", volume_ml=900), entry("09:00", volume_ml=900))
    assert changes(given) == Changes()
    assert changes(given).nothing
    assert "No new escalation, order or bed since the last hand-over." in situation(given)
    (section,) = (each for each in unit_page(given).after if "hand-over" in each.title)
    assert [line.text for line in section.lines] == ["No new escalation, order or bed."]


# Dangers: a matter opens, and closes once it is told and settled

LOW, FINE, UNKNOWN = {"spo2": 85}, {"spo2": 97}, {"pulse": 80}
TOLD = {"what": "told", "about": ("oxygen",), "note": "Dr Quill: mask"}


@pytest.mark.parametrize(
    ("then", "now", "opened"),
    [
        (FINE, LOW, ["low-oxygen"]),
        (UNKNOWN, LOW, ["low-oxygen"]),
        (LOW, LOW, []),
        (LOW, FINE, []),
        (LOW, UNKNOWN, []),
        (FINE, FINE, []),
    ],
)
@pytest.mark.parametrize("told", [True, False])
def test_a_danger_opens_in_the_shift_in_which_it_is_first_met(
    then: Mapping[str, Any], now: Mapping[str, Any], opened: list[str], told: bool
) -> None:
    told_of_it = [entry("-1 20:10", **TOLD)] if told and then == LOW else []
    given = after_a_night(entry("-1 20:00", **then), *told_of_it, entry("09:00", **now))
    assert names(changes(given).opened) == opened


@pytest.mark.parametrize(
    ("since_then", "closed"),
    [
        ([entry("09:00", **FINE), entry("09:10", **TOLD)], True),
        ([entry("08:00", **TOLD), entry("09:00", **FINE)], True),
        ([entry("09:00", **FINE)], False),
        ([entry("09:10", **TOLD)], False),
        ([entry("09:00", **UNKNOWN), entry("09:10", **TOLD)], False),
        ([entry("09:00", what="note", note="sleeps well"), entry("09:10", **TOLD)], False),
        ([], False),
    ],
)
def test_a_danger_of_then_is_closed_only_when_told_and_settled(
    since_then: list[Entry], closed: bool
) -> None:
    """What was not measured again, or never told, is not over, however quiet the shift was."""
    found = changes(after_a_night(entry("-1 20:00", **LOW), *since_then))
    assert names(found.closed) == (["low-oxygen"] if closed else [])
    assert found.opened == ()


def test_what_was_closed_before_the_hand_over_is_no_change() -> None:
    then = (entry("-1 20:00", **LOW), entry("-1 20:10", **TOLD), entry("-1 22:00", **FINE))
    assert changes(after_a_night(*then, entry("09:00", **FINE))).nothing


def test_what_opens_and_closes_in_one_shift_is_new_and_not_closed_too() -> None:
    given = after_a_night(
        entry("08:00", **LOW), entry("08:10", **TOLD), entry("10:00", **FINE), now=LISTED
    )
    found = changes(given)
    assert (names(found.opened), found.closed) == (["low-oxygen"], ())


def test_a_danger_that_closed_is_told_and_seen_to_be_over_and_never_more_than_that() -> None:
    given = after_a_night(
        entry("-1 20:00", **LOW), entry("-1 20:10", **TOLD), entry("09:00", **FINE)
    )
    said = situation(given).lower()
    assert "'low oxygen' told and seen to be over" in said
    assert not [word for word in ("resolved", "cured", "better", "safe") if word in said]


def test_a_danger_that_was_over_and_is_there_again_is_said_once() -> None:
    """'Is new' and 'seen to be over' of one danger say opposite things."""
    given = after_a_night(
        entry("-1 20:00", **LOW),
        entry("-1 20:10", **TOLD),
        entry("09:00", **FINE),
        entry("11:00", **LOW),
    )
    said = situation(given)
    assert "'Low oxygen' was over and is there again" in said
    assert "is new" not in said
    assert "seen to be over" not in said


@pytest.mark.parametrize("now", [FINE, UNKNOWN])
def test_a_danger_of_then_that_is_open_is_said_and_not_as_over(now: Mapping[str, Any]) -> None:
    given = after_a_night(entry("-1 20:00", **LOW), entry("09:00", **now))
    (caution,) = (each for each in patient_page(given).cautions if each.title == "Low oxygen")
    assert "85 %" in caution.seen
    assert "told and seen to be over" not in situation(given)
    assert "no longer" not in situation(given)


def test_several_are_named_together() -> None:
    given = after_a_night(entry("-1 20:00"), entry("09:00", spo2=85, pulse=150))
    assert "hand-over: 'Low oxygen', 'Pulse' are new" in situation(given)


def test_a_caution_to_follow_up_is_no_change() -> None:
    given = after_a_night(entry("-1 20:00", temp_c=37), entry("09:00", temp_c=38.5))
    assert changes(given).opened == ()


def test_the_title_of_a_danger_that_closed_is_worded_by_what_was_seen_then() -> None:
    drop = (
        entry("-1 12:00", volume_ml=1500),
        entry("-1 20:00", volume_ml=600, temp_c=38.5),
        entry("-1 20:10", what="told", about=("volume",), note="Dr Quill: seen"),
        entry("09:00", volume_ml=1450, temp_c=37, spo2=97, resp_rate=14),
    )
    given = after_a_night(*drop)
    assert names(changes(given).closed) == ["volume-drop-with-signs"]
    assert "'Volume has dropped with other signs' told and seen to be over" in situation(given)


# Orders

OTHERWISE: dict[str, Any] = {
    "start": at("-1 09:00"),
    "stop": at("+1 12:00"),
    "breaths": 6,
    "every_h": 2,
    "goal_ml": 1800,
    "hold_s": 3,
    "spo2_min": 90,
    "spo2_max": 96,
    "resp_rate_min": 6,
    "resp_rate_max": 30,
    "pulse_min": 35,
    "pulse_max": 140,
    "temp_max": 39.5,
    "usual_symptoms": (Symptom.COUGH,),
    "comfort_care": True,
}


@pytest.mark.parametrize("name", ORDERED)
def test_each_part_of_an_order_that_differs_is_named(name: str) -> None:
    now = replace(LISTED, order=replace(ORDERED_BEFORE, **{name: OTHERWISE[name]}))
    given = after_a_night(now=now)
    assert changes(given).order == OrderChanges(changed=(name,))
    shown = words(given.unit.time_zone).say(f"since.order.{name}")
    assert f"order changed ({shown})" in situation(given)


def test_every_part_of_an_order_counts_but_who_ordered_it() -> None:
    no_change = {"by", "disputed_limits", "unstated", "not_known"}  # nothing else was ordered
    assert {*ORDERED} | no_change == set(Order.__struct_fields__)
    by_another = replace(LISTED, order=replace(ORDERED_BEFORE, by="Dr T. Quill"))
    assert changes(after_a_night(now=by_another)).nothing


@pytest.mark.parametrize("known_then", [True, False])
def test_a_stop_that_has_come_is_a_stop_and_no_change(known_then: bool) -> None:
    stops = replace(LISTED, order=replace(ORDERED_BEFORE, stop=at("12:00")))
    given = after_a_night(then=stops if known_then else LISTED, now=stops)
    assert changes(given).order == OrderChanges(stopped=True)
    assert "order stopped" in situation(given)


def test_a_stop_at_the_very_time_of_the_hand_over_has_come() -> None:
    stops = replace(LISTED, order=replace(ORDERED_BEFORE, stop=at("19:00")))
    assert changes(after_a_night(now=stops)).order == OrderChanges(stopped=True)


def test_an_order_that_had_stopped_before_is_not_stopped_again() -> None:
    stopped = replace(LISTED, order=replace(ORDERED_BEFORE, stop=at("06:00")))
    assert changes(after_a_night(then=stopped, now=stopped)).order == OrderChanges()


def test_a_new_order() -> None:
    given = after_a_night(then=replace(LISTED, order=None), now=patient())
    assert changes(given).order == OrderChanges(new=True)
    assert "newly ordered" in situation(given)


def test_an_order_whose_start_is_not_known_is_not_called_withdrawn_or_new() -> None:
    unclear = replace(LISTED, order=None, unread=("order_start",))
    assert changes(after_a_night(now=unclear)).order == OrderChanges()
    assert changes(after_a_night(then=unclear, now=patient())).order == OrderChanges()


def test_an_order_that_is_withdrawn_is_on_the_summary() -> None:
    given = after_a_night(now=replace(LISTED, order=None))
    assert changes(given).order == OrderChanges(withdrawn=True)
    (section,) = (each for each in unit_page(given).after if "hand-over" in each.title)
    assert [line.text for line in section.lines] == ["No order any more."]


# Readings, goal, list, bed


def test_the_first_reading() -> None:
    off_form = entry("-1 20:00", volume_ml=900, flow="fast")
    given = after_a_night(off_form, entry("09:00", volume_ml=900))
    assert changes(given) == Changes(first_reading=True)
    assert "first volume" in situation(given)
    seen = entry("-1 21:00", volume_ml=900)
    assert not changes(after_a_night(seen, entry("09:00", volume_ml=900))).first_reading


def test_the_goal_is_reached_once() -> None:
    below, above = entry("-1 20:00", volume_ml=1900), entry("09:00", volume_ml=2000)
    given = after_a_night(below, above)
    assert changes(given) == Changes(goal_reached=True)
    assert "goal reached" in situation(given)
    again = after_a_night(entry("-1 20:00", volume_ml=2100), above)
    assert not changes(again).goal_reached


def test_a_lower_goal_that_was_reached_before_is_not_reached_since() -> None:
    now = replace(LISTED, order=replace(ORDERED_BEFORE, goal_ml=1800))
    seen = entry("-1 20:00", volume_ml=1900), entry("09:00", volume_ml=1900)
    assert changes(after_a_night(*seen, now=now)) == Changes(
        order=OrderChanges(changed=("goal_ml",))
    )


def test_what_is_read_at_the_very_minute_of_the_hand_over_is_new() -> None:
    given = after_a_night(entry("07:00", volume_ml=2000))
    assert changes(given) == Changes(first_reading=True, goal_reached=True)


def test_a_new_patient() -> None:
    given = after_a_night(entry("09:00", spo2=85), then=None)
    found = changes(given)
    assert found.new_on_list
    assert names(found.opened) == ["low-oxygen"]
    assert "'Low oxygen' is new; new on the list." in situation(given)


def test_a_move_to_another_bed() -> None:
    given = after_a_night(then=replace(LISTED, bed="11B"))
    assert changes(given) == Changes(moved_from="11B")
    assert "moved from bed 11B" in situation(given)


def test_a_bed_that_is_written_otherwise_is_no_move() -> None:
    assert changes(after_a_night(then=replace(LISTED, bed=" 12a"))).nothing


def test_who_is_gone_is_named_on_the_summary_without_a_bed_before_the_name() -> None:
    gone = replace(LISTED, id="00718", name="Quince, Ivo", bed="9C")
    given = after_a_night()
    assert given.earlier is not None
    given = replace(given, earlier=Earlier(SHIFT_BEFORE, {**given.earlier.patients, gone.id: gone}))
    (section,) = (each for each in unit_page(given).after if "hand-over" in each.title)
    assert [(line.who, line.text) for line in section.lines] == [
        ("Quince, Ivo, id 00718", "No longer on the list; was in bed 9C.")
    ]
    (section,) = (
        each for each in unit_page(given, initials=True).after if "hand-over" in each.title
    )
    assert [line.who for line in section.lines] == ["Q. I., id …0718"]


# The earlier hand-over


def test_the_time_of_the_last_hand_over_is_said_where_it_is_not_this_shifts_start() -> None:
    long_ago = Shift(at("-3 07:00"), at("-3 19:00"))
    given = replace(after_a_night(), earlier=Earlier(long_ago, {LISTED.id: LISTED}))
    assert "order or bed since the last hand-over (9 May 19:00)." in situation(given)
    found = since(given)
    assert found is not None
    assert found.at == long_ago.end


def test_it_is_not_made_for_a_time_after_this_one() -> None:
    overlapping = Shift(at("-1 19:00"), at("07:30"))
    given = replace(after_a_night(as_of="07:10"), earlier=Earlier(overlapping, {}))
    found = since(given)
    assert found is not None
    assert found.at == at("07:10")


def log(start: str, end: str, patients: str = PATIENT) -> Log:
    return log_of(night("  []\n", patients, shift=shift(start, end)), f"{start}.yaml")


def earlier_of(*logs: Log) -> Earlier | None:
    (found,), _ = gather(logs, None, NOW)
    return found.earlier


LATEST = log("2026-03-07 19:00", "2026-03-08 07:00")
DAY = log("2026-03-07 07:00", "2026-03-07 19:00")
NIGHT_BEFORE = log("2026-03-06 19:00", "2026-03-07 07:00")


def test_the_earlier_shift_is_the_last_one_that_had_ended() -> None:
    found = earlier_of(NIGHT_BEFORE, LATEST, DAY)
    assert found is not None
    assert found.shift == DAY.shift
    assert list(found.patients) == ["10442"]
    assert earlier_of(LATEST) is None


def test_two_shifts_may_overlap_by_an_hour_to_hand_over_in() -> None:
    overlaps = log("2026-03-07 07:00", "2026-03-07 20:00")
    found = earlier_of(NIGHT_BEFORE, overlaps, LATEST)
    assert found is not None
    assert found.shift == overlaps.shift
    too_long = log("2026-03-07 07:00", "2026-03-07 20:01")
    found = earlier_of(NIGHT_BEFORE, too_long, LATEST)
    assert found is not None
    assert found.shift == NIGHT_BEFORE.shift


def test_a_log_that_lists_nobody_is_passed_over() -> None:
    nobody = log("2026-03-07 07:00", "2026-03-07 19:00", patients="  []\n")
    found = earlier_of(NIGHT_BEFORE, nobody, LATEST)
    assert found is not None
    assert found.shift == NIGHT_BEFORE.shift


def test_another_person_under_the_same_id_was_not_on_the_list() -> None:
    stranger = PATIENT.replace("Larkspur, Odile", "Quince, Ivo")
    found = earlier_of(log("2026-03-07 07:00", "2026-03-07 19:00", stranger + OTHER), LATEST)
    assert found is not None
    assert list(found.patients) == ["10557"]


# Against the hand-over that was made then


@pytest.mark.parametrize("logs", range(2, len(SHIFTS) + 1))
def test_the_sample_ward_changes_by_what_the_hand_over_before_said(logs: int) -> None:
    now, then = SHIFTS[:logs], SHIFTS[: logs - 1]
    given, before = handed_over(*now), handed_over(*then)
    found = since(given)
    assert found is not None
    assert found.at == before.as_of
    was = {patient.id: patient for patient in before.patients}
    known_then, known_now = matters_of(before), matters_of(given)
    for each in given.patients:
        known, is_new = was.get(each.id), found.patients[each.id]
        assert is_new.new_on_list == (known is None)
        assert is_new.moved_from == (known.bed if known and known.bed != each.bed else None)
        earlier, by_now = known_then.get(each.id, ()), known_now.get(each.id, ())
        now_closed = identities(matter for matter in by_now if not is_open(matter))
        assert identities(is_new.opened) == identities(by_now) - identities(earlier)
        assert identities(is_new.closed) == identities(filter(is_open, earlier)) & now_closed
    assert {each.id for each in found.gone} == set(was) - {each.id for each in given.patients}


def matters_of(given: Handover) -> Mapping[str, Sequence[Matter]]:
    """What is known of each patient at a hand-over; nobody who is not there has any."""
    return judge_unit(given, default_limits()).matters


def is_open(matter: Matter) -> bool:
    return matter.state is not MatterState.CLOSED


def identities(of_these: Iterable[Matter]) -> set[object]:
    return {(each.name, each.opened_at) for each in of_these}


def test_a_hold_that_began_and_ended_is_said_to_have_ended() -> None:
    sections = unit_page(handed_over(*SHIFTS)).after
    (line,) = (
        line.text
        for section in sections
        if "hand-over" in section.title
        for line in section.lines
        if line.who.startswith("Bed 9B,")
    )
    assert "Hold ended 15:22; 'Chest pain'" in line
    assert "eld since" not in line


def test_the_sample_night_says_who_moved_left_and_reached_the_goal() -> None:
    (section,) = (
        each for each in unit_page(handed_over(*SHIFTS[:-1])).after if "hand-over" in each.title
    )
    said = {line.who.partition(",")[0]: line.text for line in section.lines}
    assert said["Bed 1B"] == "Goal reached."
    assert said["Bed 2A"] == "Moved from bed 11B."
    assert said["Bed 6A"] == "'Low temperature' happened and is settled; first volume."
    assert "Okpara-Lindqvist" in said
    assert "Bed 1A" not in said


@settings(max_examples=few(15), deadline=None)
@given(handovers())
def test_a_shift_before_that_is_this_very_one_has_no_changes(given: Handover) -> None:
    """Compared with itself, nothing is new but what was read at that very minute; what opened and
    closed in a shift does so whatever is compared with it.
    """
    itself = replace(
        given,
        as_of=min(given.as_of, given.shift.end),
        earlier=Earlier(given.shift, {each.id: each for each in given.patients}),
    )
    found = since(itself)
    assert found is not None
    for each in found.patients.values():
        assert replace(each, first_reading=False, goal_reached=False, opened=(), closed=()).nothing
    assert found.gone == ()


@settings(max_examples=few(15), deadline=None)
@given(handovers())
def test_what_closed_is_told_and_settled_and_did_not_open_in_this_shift(given: Handover) -> None:
    length = given.shift.end - given.shift.start
    before = Shift(given.shift.start - length, given.shift.start)
    known = {each.id: each for each in given.patients}
    found = since(replace(given, earlier=Earlier(before, known), shifts=(before, given.shift)))
    assert found is not None
    for each in found.patients.values():
        assert not identities(each.opened) & identities(each.closed)
        for matter in each.closed:
            assert matter.told
            assert matter.settled_at is not None
            assert matter.opened_at < given.shift.start


# On paper


def test_every_change_has_its_words() -> None:
    said = words(handover().unit.time_zone)
    assert all(said.has(f"since.{name}") for name in CHANGES)
    assert all(said.has(f"since.order.{name}") for name in ORDERED)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_gravest_and_longest_log_with_every_change_is_still_one_page(paper: str) -> None:
    (now,) = GRAVEST_ALERTED.patients
    other = Order(start=at("-1 06:00"), breaths=3, every_h=4, goal_ml=1, hold_s=1, spo2_min=88)
    then = replace(now, bed="Long corridor bay 13 door", order=other)
    given = replace(GRAVEST_ALERTED, earlier=Earlier(SHIFT_BEFORE, {now.id: then}))
    page = patient_page(given)
    said = paragraph(page, "Situation")
    assert all(part in said for part in ("are new", "moved from bed", "order changed (start"))
    (text,) = read_pdf(patient_pdf(page, paper)).pages
    for caution in page.cautions:
        if caution.stays:  # in full where there is room, in a few words on so full a sheet
            assert caution.title in text
            assert caution.seen in text or caution.brief in text


def test_the_sheet_prints_what_changed() -> None:
    given = after_a_night(entry("-1 20:00", spo2=97), entry("09:00", spo2=85))
    (text,) = read_pdf(patient_pdf(patient_page(given))).pages
    assert "Since the last hand-over: 'Low oxygen' is new." in text
