"""Every branch of every template is rendered; no sentence says more than the measures bear, and no
text is error-prone.

A table of hand-overs, some random ones, and the sample ward reach every branch; each page that they
give is held against its measures: a phrase may stand only where its condition is true.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import given, settings

from handoff.compose import compose_discharge, compose_patient, compose_unit
from handoff.limits import Limits
from handoff.matters import Verdicts
from handoff.measures import Direction, GoalSource, Measures
from handoff.model import Earlier, Entry, Handover, Move, Patient, Unit, What
from handoff.page import PatientPage
from handoff.verdicts import Level
from tests.builders import (
    SHIFT_BEFORE,
    ZONE,
    at,
    default_limits,
    entry,
    handover,
    order,
    patient,
    set_aside,
    with_limit,
    without_rules,
)
from tests.random_handovers import handovers
from tests.sheets import results
from tests.test_words import misread
from tests.watched import WatchedWords

SEEN: set[str] = set()
WORDS: dict[ZoneInfo, WatchedWords] = {}


def words(zone: ZoneInfo) -> WatchedWords:
    if zone not in WORDS:
        WORDS[zone] = WatchedWords(zone, SEEN)
    return WORDS[zone]


@dataclass(frozen=True)
class Rendered:
    """One patient's page with what it was made from."""

    page: PatientPage
    measures: Measures
    verdicts: Verdicts
    handover: Handover

    @property
    def said(self) -> dict[str, str]:
        return {fact.label: fact.value for fact in self.page.paragraphs}

    @property
    def exercises(self) -> list[Entry]:
        return [each for each in self.measures.shift_entries if each.is_exercise]


def render(given: Handover, limits: Limits) -> Iterator[Rendered]:
    """Every page of a hand-over in watched words, the summary and the take-home page as well."""
    said = words(given.unit.time_zone)
    found = results(given, limits)
    for initials in (False, True):
        assert misread(compose_unit(found, said, initials=initials)) == []
    for number, (key, of_one) in enumerate(found.measures.items(), start=1):
        page = compose_patient(found, of_one.patient, said, (number, len(found.measures)))
        assert misread((page, compose_discharge(given, of_one, said))) == []
        yield Rendered(page, of_one, found.verdicts[key], given)


# A phrase of a paragraph, and what must be true of the measures where it stands.
CLAIMS: tuple[tuple[str, str, Callable[[Rendered], bool]], ...] = (
    ("Situation", "has not been started", lambda r: not _exercised(r)),
    ("Situation", "Nothing is charted in this shift", lambda r: not r.measures.shift_entries),
    ("Situation", "No exercise is charted in this shift", lambda r: not r.exercises),
    ("Situation", "declined", lambda r: _declined(r) > 0),
    ("Situation", "no volume in good form.", lambda r: r.measures.volume.best_ml is None),
    ("Situation", "Best volume this shift", lambda r: r.measures.volume.best_ml is not None),
    ("Situation", "the ordered goal", lambda r: r.measures.goal.source is GoalSource.ORDERED),
    ("Situation", "own baseline", lambda r: r.measures.goal.source is GoalSource.BASELINE),
    ("Situation", "more than the best", lambda r: (r.measures.volume.change_ml or 0) > 0),
    ("Situation", "less than the best", lambda r: (r.measures.volume.change_ml or 0) < 0),
    ("Situation", "The same as the best", lambda r: r.measures.volume.change_ml == 0),
    ("Situation", "to compare with", lambda r: r.measures.volume.previous_best_ml is None),
    ("Situation", "Escalate:", lambda r: bool(_escalations(r))),
    ("Situation", "not yet recorded as told", lambda r: any(not e.told for e in _escalations(r))),
    ("Situation", "; recorded as told", lambda r: all(e.told for e in _escalations(r))),
    ("Background", "Reason not recorded", lambda r: r.measures.patient.reason is None),
    ("Background", "after surgery", lambda r: r.measures.patient.surgery_on is not None),
    ("Background", "goal not understood", lambda r: "goal_ml" in r.measures.patient.unread),
    (
        "Background",
        ": no goal",
        lambda r: _order(r).goal_ml is None and "goal_ml" not in r.measures.patient.unread,
    ),
    ("Background", "SpO2 at least", lambda r: _order(r).spo2_min is not None),
    ("Background", "Ordered until", lambda r: _order(r).stop is not None),
    ("Background", "Planned to go home", lambda r: r.measures.patient.home_on is not None),
    ("Assessment", "is rising", lambda r: r.measures.trend.direction is Direction.RISING),
    ("Assessment", "is falling", lambda r: r.measures.trend.direction is Direction.FALLING),
    ("Assessment", "No clear", lambda r: r.measures.trend.direction is Direction.NO_CLEAR_CHANGE),
    ("Assessment", "No trend", lambda r: r.measures.trend.n == 0),
    (
        "Assessment",
        "Not enough for a trend",
        lambda r: r.measures.trend.direction is Direction.TOO_FEW,
    ),
    ("Assessment", "No breaths were due", lambda r: r.measures.adherence.slots_due == 0),
    ("Assessment", "every span charted", lambda r: r.measures.adherence.slots_uncharted == 0),
    ("Assessment", "not the same as not", lambda r: r.measures.adherence.slots_uncharted > 0),
    ("Assessment", "If it goes on", lambda r: r.measures.goal.days_to_goal is not None),
    ("Recommendation", "Tell the provider now", lambda r: any(not e.told for e in _escalations(r))),
)


def _order(rendered: Rendered) -> Any:
    return rendered.measures.patient.order


def _exercised(rendered: Rendered) -> bool:
    return any(each.is_exercise for each in rendered.measures.stay_entries)


def _declined(rendered: Rendered) -> int:
    return sum(each.what is What.DECLINED for each in rendered.measures.shift_entries)


def _escalations(rendered: Rendered) -> list[Any]:
    return [each for each in rendered.verdicts.cautions if each.level is Level.ESCALATE]


def hold_to_its_measures(rendered: Rendered) -> None:
    for label, phrase, is_true in CLAIMS:
        if phrase in rendered.said[label]:
            assert is_true(rendered), f"{label}: {phrase!r} in {rendered.said[label]!r}"
    assert ("no reading in good form this shift" in rendered.page.numbers[0].value) == (
        rendered.measures.volume.best_ml is None
    )
    drawn = rendered.page.chart
    assert (drawn.trend is not None) == (rendered.measures.trend.slope_ml_per_day is not None)
    assert len(drawn.readings) == sum(
        each.is_reading for each in rendered.measures.drawn_entries if _in_sight(each, rendered)
    )


def _in_sight(each: Entry, rendered: Rendered) -> bool:
    return (rendered.handover.as_of - each.at).days < 7


def course(*volumes: int | None, **fields: Any) -> tuple[Entry, ...]:
    """One reading about every 12 h up to the shift's end; None leaves one out."""
    clocks = ("-3 20:00", "-2 08:00", "-2 20:00", "-1 08:00", "-1 20:00", "+0 08:00", "+0 18:30")
    return tuple(
        entry(clock, volume_ml=volume, **fields)
        for clock, volume in zip(clocks, volumes, strict=True)
        if volume is not None
    )


LONG = patient(order=order("-4 19:00", goal_ml=1500))
BARE = Patient("77", "", date(1990, 1, 1), "", patient().place, order=order("-1 08:00"))
HOME = date(2026, 5, 13)
ILL = entry("08:00", "dizzy faint drowsy breathless", spo2=80, resp_rate=30, temp_c=38.4, pain=8)
TOLD = entry("08:20", what="told", note="Dr Quill!")


def one(*entries: Entry, **fields: Any) -> Handover:
    return handover(*entries, patients=(patient(**fields),))


def after(then: Patient | None, given: Handover) -> Handover:
    known = {} if then is None else {then.id: then}
    return replace(given, earlier=Earlier(SHIFT_BEFORE, known))


def long_after(then: Patient, given: Handover) -> Handover:
    """The shift before ended 12 h before this one starts."""
    two_before = replace(SHIFT_BEFORE, start=at("-1 07:00"), end=at("-1 19:00"))
    return replace(given, earlier=Earlier(two_before, {then.id: then}))


CASES: Mapping[str, Handover] = {
    "never started": one(),
    "moved in the shift": one(moved=Move(("14", "3"), at("09:40"))),
    "never started, order stopped": one(order=order("-1 08:00", "10:00"), device_given=None),
    "never started, all in place, no": one(device_given=False, device_labelled=False, taught=False),
    "never started, declined": one(entry("09:00", what="declined")),
    "never started, declined twice": one(*(entry(f"{h}:00", what="declined") for h in (10, 12))),
    "nothing charted": handover(*course(900, None, None, None, None, None, None), patients=(LONG,)),
    "declined once": one(
        entry("-1 20:00"), entry("09:00", what="declined"), order=order("-1 08:00")
    ),
    "all declined": one(
        entry("-1 20:00"),
        *(entry(f"{h}:00", what="declined") for h in (10, 12, 14)),
        order=order("-1 08:00"),
    ),
    "asleep all shift": one(
        entry("-1 20:00"), entry("07:00", what="asleep", until="19:00"), order=order("-1 08:00")
    ),
    "off form only": one(entry("09:00", volume_ml=900, flow="fast")),
    "no goal, no baseline": one(entry("09:00", volume_ml=900), order=order()),
    "a goal that could not be read": one(
        entry("09:00", volume_ml=900), order=order(), unread=("goal_ml",)
    ),
    "baseline for a goal": one(
        entry("09:00", volume_ml=900, flow="steady", position="sitting"),
        order=order(hold_s=3, every_h=2, by="Dr T. Quill", spo2_min=90),
        baseline_ml=1900,
    ),
    "goal reached, at scale": one(
        entry("09:00", volume_ml=2500, hold_s=5, pain=2),
        entry("10:00", volume_ml=2500, hold_s=5, pain=3),
        device_scale_ml=2500,
    ),
    "goal over the scale": one(entry("09:00", volume_ml=900), device_scale_ml=1500),
    "equal to the day before": one(
        entry("-1 20:00", volume_ml=900), entry("09:00", volume_ml=900), order=order("-1 08:00")
    ),
    "rising": handover(*course(700, 820, 930, 1050, 1150, 1280, 1390), patients=(LONG,)),
    "rising, goal far": handover(
        *course(700, 750, 800, 850, 900, 950, 1000),
        patients=(patient(order=order("-4 19:00", goal_ml=3000)),),
    ),
    "rising slowly": handover(
        *course(900, 920, 950, 990, 1030, 1050, 1080),
        patients=(patient(order=order("-4 19:00", goal_ml=2000)),),
    ),
    "rising slowly, goal nearer": handover(
        *course(900, 920, 950, 990, 1030, 1050, 1080),
        patients=(patient(order=order("-4 19:00", goal_ml=1500)),),
    ),
    "rising, goal near": handover(
        *course(700, 820, 930, 1050, 1150, 1280, 1390),
        patients=(patient(order=order("-4 19:00", goal_ml=1420)),),
    ),
    "rising steadily": handover(
        *course(700, 800, 900, 1000, 1100, 1200, 1300),
        patients=(patient(order=order("-4 19:00", goal_ml=1600)),),
    ),
    "falling": handover(*course(1390, 1280, 1150, 1050, 930, 820, 700), patients=(LONG,)),
    "no clear change": handover(*course(1000, 1100, 950, 1050, 1000, 1020, 990), patients=(LONG,)),
    "in danger, not told": one(ILL, entry("08:10", volume_ml=900)),
    "in danger, told twice": one(ILL, TOLD, entry("09:00", what="told")),
    "in danger again, told of the first": one(
        ILL, TOLD, entry("10:00", pulse=150, on_oxygen=True), entry("11:00", resp_rate=6)
    ),
    "low oxygen on air": one(entry("09:00", spo2=85, on_oxygen=False)),
    "low oxygen under the order": one(
        entry("09:00", spo2=89, on_oxygen=True), order=order(spo2_min=90)
    ),
    "cold": one(entry("09:00", temp_c=34.5, pulse=35)),
    "drowsy before too": one(
        entry("-1 20:00", "drowsy"), entry("09:00", "drowsy"), order=order("-1 08:00")
    ),
    "dizzy again and again": one(*(entry(f"{h}:00", "dizzy", breaths=15) for h in range(10, 17))),
    "volume dropped by one reading": one(
        entry("-1 20:00", volume_ml=1500),
        entry("09:00", volume_ml=900),
        order=order("-1 08:00"),
    ),
    "volume dropped by one reading, sitting": one(
        entry("-1 20:00", volume_ml=1500, position="sitting"),
        entry("09:00", volume_ml=900, position="lying", spo2=97, resp_rate=16, temp_c=37),
        order=order("-1 08:00"),
    ),
    "a volume of nothing the day before": one(
        entry("-1 20:00", volume_ml=0), entry("09:00", volume_ml=900), order=order("-1 08:00")
    ),
    "volume dropped, with signs": one(
        entry("-1 20:00", volume_ml=1500, position="standing"),
        *(entry(f"{h}:00", volume_ml=900, temp_c=38.5, position="lying") for h in range(10, 16)),
        order=order("-1 08:00"),
    ),
    "volume very low by weight": one(
        entry("09:00", volume_ml=500), entry("10:00", volume_ml=500), weight_kg=70
    ),
    "volume very low by reference": one(
        entry("09:00", volume_ml=500),
        entry("10:00", volume_ml=500),
        sex="female",
        height_cm=170,
    ),
    "technique": one(
        entry("09:00", flow="blew"),
        *(entry(f"{h}:00", flow="fast", hold_s=1) for h in (10, 11, 12)),
    ),
    "too fast only": one(*(entry(f"{h}:00", flow="slow") for h in (10, 11, 12))),
    "few breaths": one(*(entry(f"{h:02}:10", breaths=1, pain=5) for h in range(7, 12))),
    "not shown back, no label": one(entry("09:00"), shown_back=False, device_labelled=False),
    "nothing recorded of set-up": one(entry("09:00"), shown_back=None, device_labelled=None),
    "going home, not ready": one(
        entry("09:00", volume_ml=900), home_on=HOME, shown_back=None, device_labelled=False
    ),
    "going home, ready": one(entry("09:00", volume_ml=900), home_on=HOME),
    "going home, ordered until then": one(
        entry("09:00", volume_ml=900),
        home_on=HOME,
        order=order("-1 08:00", "+1 10:00", hold_s=0, breaths=1, every_h=4),
    ),
    "surgery, reason, device times": one(
        entry("09:00", volume_ml=900, note="sat up"),
        surgery_on=date(2026, 5, 10),
        reason="open bowel surgery",
        device_given=at("08:00"),
        device_scale_ml=None,
    ),
    "surgery still to come": one(surgery_on=date(2026, 5, 20)),
    "an id and a birth date only": handover(entry("09:00", patient_id="77"), patients=(BARE,)),
    "an id and a name only": one(entry("09:00"), born=None),
    "rows set aside": replace(
        handover(entry("09:00"), set_aside=(set_aside("10:00", "faint", spo2=80),)),
        name_alerts={"10442": ("5",)},
    ),
    "no order": handover(patients=(patient(order=None),)),
    "an 11 h night with a phone": replace(
        handover(entry("09:00")),
        unit=Unit("Harbour 3 East", ZONE, None, phone="ext. 4410"),
        shift=replace(handover().shift, end=at("18:00"), name=None, outgoing="O. K. RN"),
    ),
    "nothing new": after(LONG, handover(patients=(LONG,))),
    "new on the list": after(None, one(entry("09:00", volume_ml=900))),
    "moved, first reading, goal reached": after(
        replace(LONG, bed="3"), handover(entry("09:00", volume_ml=1600), patients=(LONG,))
    ),
    "newly ordered": after(patient(order=None), one(entry("09:00"))),
    "order withdrawn": after(LONG, handover(patients=(replace(LONG, order=None),))),
    "order changed": after(
        patient(order=order("-4 19:00", goal_ml=1200)), handover(patients=(LONG,))
    ),
    "order stopped": after(LONG, one(order=order("-4 19:00", "10:00", goal_ml=1500))),
    "danger then, not now": after(
        LONG,
        handover(entry("-1 20:00", spo2=80, pulse=150), entry("09:00", spo2=97), patients=(LONG,)),
    ),
    "two dangers then, neither now": after(
        LONG,
        handover(entry("-1 20:00", "faint", spo2=80), entry("09:00", spo2=97), patients=(LONG,)),
    ),
    "danger now": after(LONG, handover(ILL, patients=(LONG,))),
    "one danger now": after(LONG, handover(entry("09:00", spo2=80), patients=(LONG,))),
    "breathing slowly": one(entry("09:00", resp_rate=6)),
    "volume dropped by half, no signs": one(
        entry("-1 20:00", volume_ml=1500),
        entry("09:00", volume_ml=700, spo2=97, resp_rate=16, temp_c=37),
        entry("10:00", volume_ml=700),
        order=order("-1 08:00"),
    ),
    "nothing new since two shifts ago": long_after(LONG, handover(patients=(LONG,))),
    "danger since two shifts ago": long_after(LONG, handover(ILL, patients=(LONG,))),
    "going home, every hour, hold of a second": one(home_on=HOME, order=order(hold_s=1)),
    "two points, all charted, nothing to say": one(
        entry("-1 20:00", volume_ml=1000, flow="steady"),
        *(
            entry(f"{h:02}:10", volume_ml=1000, hold_s=5, pain=0, flow="steady", spo2=97)
            for h in range(7, 19)
        ),
        order=order("-1 19:00", goal_ml=2000),
    ),
    "one span not charted": one(
        *(entry(f"{h:02}:10", volume_ml=1000) for h in range(7, 18)), order=order("-1 08:00")
    ),
    "a volume the day before, none now": one(
        entry("-1 20:00", volume_ml=1000), entry("09:00"), order=order("-1 08:00")
    ),
    "blown into only": one(entry("09:00", flow="blew")),
    "once a day": one(home_on=HOME, order=order(every_h=24)),
    "going home, one breath": one(home_on=HOME, order=order(breaths=1)),
    "order still to begin": one(entry("09:00", what="note"), order=order("+1 08:00")),
    "order still to begin, done before": replace(
        one(entry("09:00", breaths=5), order=order("+1 08:00")), stay_start={"10442": at("07:00")}
    ),
    "going home, never taught": one(home_on=HOME, taught=False, shown_back=None),
    "going home, in danger": one(
        ILL,
        *(entry(f"{h}:00", "dizzy", what="declined") for h in (10, 11)),
        home_on=HOME,
    ),
    "in danger, better since": one(
        entry("09:00", spo2=85, resp_rate=30, pulse=140, temp_c=34.5),
        entry("10:00", spo2=95, resp_rate=20, pulse=90, temp_c=38.5, on_oxygen=True),
        entry("11:00", spo2=95, temp_c=37.0, on_oxygen=False),
    ),
    "in danger, better since on oxygen": one(
        entry("09:00", spo2=85), entry("10:00", spo2=95, on_oxygen=True)
    ),
    "in danger, better since, oxygen not recorded": one(
        entry("09:00", spo2=85), entry("10:00", spo2=95)
    ),
    "in danger, never started": one(
        entry("09:00", what="note", spo2=80), device_given=None, taught=False
    ),
    "in danger, order stopped, never started": one(
        entry("09:00", what="note", spo2=80), order=order("-1 08:00", "10:00")
    ),
    "volumes without a count": one(
        *(entry(f"{h:02}:10", breaths=None, volume_ml=900) for h in range(7, 12))
    ),
    "one volume without a count": one(
        entry("07:10", breaths=None, volume_ml=900),
        *(entry(f"{h:02}:10", breaths=1) for h in range(8, 12)),
    ),
    "cells that could not be read": one(
        entry("09:00")._replace(unread=("temp_c",), raw={"temp_c": "101"}),
        *(entry(f"{h}:00")._replace(unread=("symptoms",)) for h in range(10, 15)),
    ),
    "on the list of another unit": replace(one(entry("09:00")), elsewhere={"10442": ("5",)}),
    "a child": one(entry("09:00"), born=date(2017, 5, 5)),
    "due in one hour only": one(
        entry("07:00", what="away", until="18:30"), order=order("-1 08:00")
    ),
    "going home, stopped": one(home_on=HOME, order=order("-1 08:00", "10:00", every_h=2)),
}

LIMITS = (
    default_limits(),
    with_limit("fever", "temp_c_at_or_over", "38.3"),
    without_rules("pulse"),
    without_rules("pulse", "going-home"),
)


def test_every_branch_is_rendered_and_true() -> None:
    for limits in LIMITS:
        for case in CASES.values():
            for rendered in render(case, limits):
                hold_to_its_measures(rendered)
    every = words(ZONE)
    every.compile_all()
    # The pages to fill in by hand are rendered where they are tested, in test_blank.py.
    left = {each for each in every.branches - SEEN if not each.startswith("blank.")}
    assert left == set()


@settings(max_examples=40)
@given(handovers())
def test_random_hand_overs_say_nothing_that_their_measures_do_not_bear(given: Handover) -> None:
    for rendered in render(given, LIMITS[0]):
        hold_to_its_measures(rendered)
