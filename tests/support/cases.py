"""Hand-overs that together reach every branch of every template, by what they are."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from msgspec.structs import replace

from handoff.model.codes import finding
from handoff.model.findings import Place
from handoff.model.ward import (
    Counts,
    Disputed,
    Doubt,
    Earlier,
    Entry,
    Gap,
    Handover,
    Listing,
    Log,
    Move,
    Order,
    Patient,
    SeenBy,
    SetAside,
    Shift,
    Symptom,
    Unit,
    What,
)
from tests.support.builders import (
    SHIFT_BEFORE,
    ZONE,
    at,
    entry,
    handover,
    order,
    patient,
    set_aside,
    signs,
)


def course(*volumes: int | None, **fields: Any) -> tuple[Entry, ...]:
    """One reading about every 12 h up to the shift's end; None leaves one out."""
    clocks = ("-3 20:00", "-2 08:00", "-2 20:00", "-1 08:00", "-1 20:00", "+0 08:00", "+0 18:30")
    return tuple(
        entry(clock, volume_ml=volume, **fields)
        for clock, volume in zip(clocks, volumes, strict=True)
        if volume is not None
    )


def two_of_every_day(*volumes: int) -> tuple[Entry, ...]:
    """A reading at 06:00 and one at 18:00 of each day, up to this one."""
    days = len(volumes) // 2
    return tuple(
        entry(f"-{days - 1 - number // 2} {'18' if number % 2 else '06'}:00", volume_ml=volume)
        for number, volume in enumerate(volumes)
    )


def usual(volume_ml: float, **fields: Any) -> tuple[Entry, ...]:
    """Three readings of the night before."""
    return tuple(
        entry(f"-1 {clock}", volume_ml=volume_ml, **fields) for clock in ("20:00", "21:00", "22:00")
    )


LONG = patient(order=order("-4 19:00", goal_ml=1500))
BARE = Patient("77", "", date(1990, 1, 1), "", patient().place, order=order("-1 08:00"))
HOME = date(2026, 5, 13)
ILL = entry("08:00", "dizzy faint drowsy breathless", spo2=80, resp_rate=30, temp_c=38.4, pain=8)
TOLD = entry("08:20", what="told", note="Dr Quill!", about=("all",))
EARLIER = order("-1 08:00", goal_ml=1500)  # an order that the shift before had too
DANGER_BEFORE = entry(
    "-1 20:00",
    "dizzy faint confused",
    spo2=80,
    resp_rate=30,
    pulse=150,
    temp_c=34.5,
    on_oxygen=True,
    oxygen="2 L nasal",
)


def told(clock: str, *about: str) -> Entry:
    return entry(clock, what="told", note="Dr Quill: seen", about=about)


def one(*entries: Entry, **fields: Any) -> Handover:
    return handover(*entries, patients=(patient(**fields),))


def after(then: Patient | None, given: Handover) -> Handover:
    known = {} if then is None else {then.id: then}
    return replace(given, earlier=Earlier(SHIFT_BEFORE, known))


def in_shifts(given: Handover, *shifts: Shift) -> Handover:
    """The logs given are of these shifts and the one handed over."""
    return replace(given, shifts=(*shifts, given.shift))


def with_gone(*left: Entry) -> Handover:
    """Somebody else was on the list before, in danger or on hold, and is not on this one."""
    gone = patient(id="20002", name="Petrel, Ivo", bed="6", order=EARLIER)
    danger = entry("-1 20:00", patient_id="20002", spo2=80, on_oxygen=False)
    given = handover(danger, *left, patients=(patient(), gone))
    listed = given.patients[0]
    (before, now) = given.shifts
    unit = given.unit.name
    return replace(
        given,
        patients=(listed,),
        gone=(gone,),
        left={each.patient_id: each for each in left if each.what is What.LEFT},
        listings={
            listed.id: (Listing(unit, now, listed),),
            gone.id: (Listing(unit, before, gone),),
        },
    )


def from_another_unit(*entries: Entry) -> Handover:
    """The patient was on the list of another unit in the shift before."""
    given = one(*entries, order=EARLIER)
    (listed,), (before, now) = given.patients, given.shifts
    came = (Listing("Harbour 5 North", before, listed), Listing(given.unit.name, now, listed))
    return replace(given, listings={listed.id: came})


def without_order_now(*entries: Entry) -> Handover:
    """The order of the shift before is not on this list any more."""
    ended = order("-1 08:00", "-1 22:00", goal_ml=1500)
    given = one(*entries, order=None)
    (listed,), (before, now) = given.patients, given.shifts
    then = replace(listed, order=ended)
    return replace(
        given,
        lapsed={listed.id: ended},
        stay_start={listed.id: ended.start},
        listings={
            listed.id: (
                Listing(given.unit.name, before, then),
                Listing(given.unit.name, now, listed),
            )
        },
    )


def comfort_care_from_now_on(*entries: Entry) -> Handover:
    """Comfort care is ordered in the log of this shift, not yet in the one before."""
    given = one(*entries, order=order("-1 08:00", comfort_care=True, by="Dr Quill"))
    (listed,), (before, now) = given.patients, given.shifts
    then = Listing(given.unit.name, before, replace(listed, order=order("-1 08:00")))
    periods = (order("-1 08:00", "07:00"), replace(listed.order or order(), start=at("07:00")))
    return replace(
        given,
        listings={listed.id: (then, Listing(given.unit.name, now, listed))},
        periods={listed.id: periods},
    )


def after_an_earlier_stay(*entries: Entry) -> Handover:
    """The stay before, some days ago, had these entries."""
    given = one(entry("09:00"))
    (listed,) = given.patients
    then = replace(listed, order=order("-4 07:00"))
    shift = Shift(at("-4 07:00"), at("-4 19:00"))
    before = Listing(given.unit.name, shift, then)
    return replace(
        given,
        listings={listed.id: (Listing(given.unit.name, given.shift, listed),)},
        stay_before={listed.id: (before,)},
        entries_before={listed.id: entries},
    )


def of_no_known_start(given: Handover, before: Order | None = None) -> Handover:
    """The patient's order has no known start; `before` is one that has, of the logs before."""
    (listed,) = given.patients
    start = given.shift.start
    return replace(
        given,
        patients=(replace(listed, order=None, unread=("order_start",)),),
        lapsed={listed.id: before or Order(start, stop=start)},
        stay_start={listed.id: before.start} if before else {},
        periods={},
    )


def long_after(then: Patient, given: Handover) -> Handover:
    """The shift before ended 12 h before this one starts."""
    two_before = replace(SHIFT_BEFORE, start=at("-1 07:00"), end=at("-1 19:00"))
    return replace(given, earlier=Earlier(two_before, {then.id: then}))


def under_two_ids(given: Handover) -> Handover:
    """The patient is also listed under two other ids: here, and on another unit without a bed."""
    (listed,) = given.patients
    here = Listing(given.unit.name, given.shift, replace(listed, id="7", bed="5"))
    there = Listing("Harbour 5 North", given.shift, replace(listed, id="8", bed=""))
    return replace(given, other_ids={listed.id: (here, there)})


def with_a_blank_row(given: Handover) -> Handover:
    """The log of the shift has one row more, without an entry."""
    log = Log("day.csv", given.unit, given.shift, given.patients, (), (), Counts(1, 1, 0), ())
    return replace(given, logs=(log,))


def of_nobody(clock: str | None, **raw: str) -> SetAside:
    """A row set aside whose id is on no list, with its cells as written."""
    return replace(set_aside(clock, patient_id="20141"), raw=raw)


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
    "not clear": handover(*course(1000, 1300, 950, 1250, 1000, 1320, 990), patients=(LONG,)),
    "in danger, not told": one(ILL, entry("08:10", volume_ml=900)),
    "in danger, told twice": one(ILL, TOLD, entry("09:00", what="told")),
    "in danger again, told of the first": one(
        ILL, TOLD, entry("10:00", pulse=150, on_oxygen=True), entry("11:00", resp_rate=6)
    ),
    "low oxygen on air": one(entry("09:00", spo2=85, on_oxygen=False)),
    "low oxygen under the order": one(
        entry("09:00", spo2=89, on_oxygen=True), order=order(spo2_min=90)
    ),
    "high SpO2 on oxygen, the upper limit not ordered": one(
        entry("08:00", spo2=90, on_oxygen=False),
        entry("09:00", spo2=95, on_oxygen=True, oxygen="4 L nasal"),
        entry("10:00", spo2=93, on_oxygen=True),
        order=order(spo2_min=88),
    ),
    "high SpO2 on oxygen, and drowsy": one(
        entry("09:00", spo2=98, on_oxygen=True),
        entry("09:30", "drowsy", resp_rate=8),
        order=order(spo2_min=88, spo2_max=92),
    ),
    "high SpO2, whether on oxygen is not recorded": one(
        entry("09:00", spo2=98), order=order(spo2_min=88, spo2_max=92)
    ),
    "high SpO2 in the shift before, less now": one(
        entry("-1 20:00", spo2=98, on_oxygen=True),
        entry("09:00", spo2=94, on_oxygen=True),
        order=order("-1 08:00", spo2_min=88),
    ),
    "beyond limits of the order": one(
        entry("09:00", resp_rate=21, pulse=48, temp_c=37.9),
        order=order(resp_rate_min=10, resp_rate_max=20, pulse_min=50, pulse_max=140, temp_max=37.5),
    ),
    "a high fever, told, a little less": one(
        entry("08:00", temp_c=39.5), told("08:10", "temperature"), entry("10:00", temp_c=38.5)
    ),
    "a child over the adult limits": one(
        entry("09:00", resp_rate=30, pulse=135), born=date(2020, 1, 1), weight_kg=19
    ),
    "comfort care, in danger before": comfort_care_from_now_on(
        entry("-1 20:00", spo2=80), entry("09:00", "breathless", spo2=80, pain=8)
    ),
    "comfort care, nobody says who ordered it, nor any number": one(
        entry("09:00"), order=order(comfort_care=True, unstated=("breaths", "every_h"))
    ),
    "usual symptoms": one(
        entry("09:00", "confused"),
        entry("10:00", "breathless dizzy"),
        order=order(
            usual_symptoms=(Symptom.CONFUSED, Symptom.BREATHLESS, Symptom.DIZZY), by="Dr Quill"
        ),
    ),
    "a usual symptom, nobody says who calls it so": one(
        entry("09:00", "confused"), order=order(usual_symptoms=(Symptom.CONFUSED,))
    ),
    "signs that cannot be read, one of them perhaps a danger": one(
        replace(entry("09:00"), unread=("spo2",), raw={"spo2": "8.1"}, likely=signs(spo2=81)),
        replace(entry("10:00"), unread=("pain", "temp_c"), raw={"pain": "44", "temp_c": "101"}),
        entry("11:00", spo2=85),
    ),
    "a symptom that cannot be read, asked again": one(
        replace(entry("08:00"), unread=("symptoms",), likely=signs("faint")),
        entry("10:00", "none"),
    ),
    "cold": one(entry("09:00", temp_c=34.5, pulse=35)),
    "drowsy before too": one(
        entry("-1 20:00", "drowsy"), entry("09:00", "drowsy"), order=order("-1 08:00")
    ),
    "dizzy once": one(entry("09:00", "dizzy")),
    "dizzy again and again": one(*(entry(f"{h}:00", "dizzy", breaths=15) for h in range(10, 17))),
    "dizzy twice, a few breaths at once": one(
        *(entry(clock, "dizzy", breaths=3) for clock in ("09:00", "11:00"))
    ),
    "dizzy three times in the shift before, not asked again for a day": one(
        *(entry(clock, "dizzy") for clock in ("-2 08:00", "-2 09:00", "-2 10:00")),
        told("-2 10:10", "dizzy"),
        *(entry(clock, spo2=96) for clock in ("-1 08:00", "-1 20:00", "09:00")),
        order=order("-3 08:00"),
    ),
    "dizzy three times, none a day later but too little asked": one(
        *(entry(clock, "dizzy") for clock in ("-2 08:00", "-2 09:00", "-2 10:00")),
        told("-2 10:10", "dizzy"),
        *(entry(clock, "cough fatigue") for clock in ("-1 08:00", "-1 20:00", "09:00")),
        order=order("-3 08:00"),
    ),
    "dizzy three times, over too soon": one(
        *(entry(clock, "dizzy") for clock in ("08:00", "09:00", "10:00")), entry("10:30", "none")
    ),
    "dizzy three times, over": one(
        *(entry(clock, "dizzy") for clock in ("08:00", "09:00", "10:00")), entry("11:30", "none")
    ),
    "dizzy in a note": one(entry("09:00", "dizzy", what="note")),
    "dizzy twice on hold": one(
        entry("08:00", what="hold", note="Dr Quill"),
        *(entry(clock, "dizzy", breaths=3) for clock in ("09:00", "11:00")),
    ),
    "wheeze twice, nothing measured": one(
        *(entry(clock, "wheeze", what="note") for clock in ("09:00", "11:00"))
    ),
    "breathless once": one(entry("09:00", "breathless", spo2=96, resp_rate=16, pulse=80, pain=2)),
    "wheeze once, over": one(
        entry("09:00", "wheeze cough", spo2=96, resp_rate=16, pulse=80, pain=2),
        entry("11:00", "none"),
        *(entry(clock, "fatigue") for clock in ("12:00", "13:00")),
        *(entry(clock, "tingling cough") for clock in ("14:00", "15:00")),
    ),
    "wheeze once, told": one(
        entry("09:00", "wheeze", spo2=96, resp_rate=16, pulse=80, pain=2),
        told("09:10", "wheeze"),
        entry("11:00", "none"),
    ),
    "wheeze, going home": one(
        entry("09:00", "wheeze", spo2=96, resp_rate=16, pulse=80, pain=2), home_on=HOME
    ),
    "breathless twice before the shift, once in it": one(
        *(
            entry(clock, "breathless", spo2=96, resp_rate=16, pulse=80, pain=2)
            for clock in ("-1 09:00", "-1 11:00", "09:00")
        ),
        order=order("-2 08:00"),
    ),
    "new oxygen, high, told": one(
        entry("08:00", spo2=91, on_oxygen=False),
        entry("09:00", spo2=94, on_oxygen=True),
        told("09:10", "oxygen"),
        order=order(spo2_min=88, spo2_max=92),
    ),
    "pain seven, told": one(entry("09:00", pain=7), told("09:10", "pain")),
    "pain seven, told, held": one(
        entry("08:00", what="hold", note="Dr Quill"),
        entry("09:00", pain=7),
        told("09:10", "pain"),
    ),
    "volume very low, told": one(
        entry("09:00", volume_ml=500),
        entry("10:00", volume_ml=500),
        told("10:10", "volume"),
        weight_kg=70,
    ),
    "own baseline over the scale": one(
        entry("09:00", volume_ml=900), order=order(), baseline_ml=1900, device_scale_ml=1500
    ),
    "goal reached, order ended": one(
        entry("09:00", volume_ml=1600), order=order("-1 08:00", "10:00", goal_ml=1500)
    ),
    "exercises in two holds": one(
        entry("08:00", what="hold", until="09:00"),
        entry("08:30", breaths=5),
        entry("10:00", what="hold"),
        entry("10:30", breaths=5),
    ),
    "breathless twice": one(
        *(
            entry(clock, "breathless", spo2=96, resp_rate=16, pulse=80, pain=2)
            for clock in ("09:00", "11:00")
        ),
    ),
    "breathless twice, pain over": one(
        *(entry(clock, "breathless", pain=8) for clock in ("08:00", "09:00")),
        entry("11:00", pain=2),
    ),
    "wheeze twice, over but for the oxygen": one(
        *(entry(clock, "wheeze", spo2=85) for clock in ("08:00", "09:00")), entry("11:00", "none")
    ),
    "declined with pain": one(
        *(entry(clock, what="declined", pain=pain) for clock, pain in (("09:00", 9), ("11:00", 8))),
    ),
    "pain again, held": one(
        entry("08:00", what="hold", note="Dr Quill"),
        entry("09:00", pain=8),
        entry("09:10", pain=8),
    ),
    "pain again, and still": one(
        *(entry(clock, pain=8) for clock in ("08:00", "09:00")), entry("10:30", pain=5)
    ),
    "low oxygen long before the last entry": one(
        entry("07:10", spo2=85, temp_c=38.5), entry("18:30", note="asleep", what="note")
    ),
    "one low reading": one(*usual(1500), entry("09:00", volume_ml=1100), order=order("-1 08:00")),
    "one low reading, lying": one(
        *usual(1500),
        entry(
            "09:00",
            volume_ml=1100,
            position="lying",
            spo2=97,
            resp_rate=16,
            temp_c=37,
            pulse=80,
            pain=2,
        ),
        order=order("-1 08:00"),
    ),
    "volume dropped, breathless": one(
        *usual(1500), entry("09:00", "breathless", volume_ml=900), order=order("-1 08:00")
    ),
    "a usual volume of nothing": one(
        *usual(0), entry("09:00", volume_ml=900), order=order("-1 08:00")
    ),
    "volume dropped, with signs": one(
        *usual(1500),
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
    "going home, rows set aside": replace(
        handover(
            entry("09:00"),
            set_aside=(set_aside("10:00", "faint", spo2=80, temp_c=34.0),),
            patients=(patient(home_on=HOME),),
        ),
        name_alerts={"10442": ("5",)},
    ),
    "a row set aside with a high SpO2 on oxygen": handover(
        patients=(patient(order=order(spo2_min=88)),),
        set_aside=(set_aside("10:00", spo2=98, on_oxygen=True),),
    ),
    "signs of nobody on a sheet": handover(
        entry("09:00"),
        set_aside=(
            of_nobody("10:00", spo2="84", pulse="140", note="bed 11"),
            of_nobody("11:00", symptoms="faint"),
        ),
    ),
    "a danger charted after 'data as of'": handover(
        entry("09:00"), entry("12:30", "faint", spo2=80), as_of="12:00"
    ),
    "cells lost, people perhaps mixed up": replace(
        handover(entry("09:00")),
        findings=(
            finding(
                "not-a-number",
                Place("day.yaml", 7),
                "goal_ml",
                "15OO",
                in_unit=" in mL",
                example="1500",
                or_blank=", as it is ordered: a blank means the usual, or what was ordered before",
            ),
            finding("identity-disagrees", Place("day.yaml", 8), "born"),
        ),
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
        patient(
            order=order(
                "-4 18:00", "+1 10:00", goal_ml=1200, breaths=5, every_h=2, hold_s=3, spo2_min=90
            )
        ),
        handover(patients=(LONG,)),
    ),
    "the patient's own limits changed": after(
        patient(
            order=order(
                "-4 19:00",
                goal_ml=1500,
                spo2_max=96,
                resp_rate_min=6,
                resp_rate_max=30,
                pulse_min=35,
                pulse_max=140,
                temp_max=39.5,
                usual_symptoms=(Symptom.COUGH,),
                comfort_care=True,
            )
        ),
        handover(patients=(LONG,)),
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
        replace(entry("09:00"), unread=("temp_c",), raw={"temp_c": "101"}),
        *(replace(entry(f"{h}:00"), unread=("symptoms",)) for h in range(10, 15)),
    ),
    "on the list of another unit": replace(one(entry("09:00")), elsewhere={"10442": ("5",)}),
    "a child": one(entry("09:00"), born=date(2017, 5, 5)),
    "due in one hour only": one(
        entry("07:00", what="away", until="18:30"), order=order("-1 08:00")
    ),
    "danger of the shift before, looked at too soon": one(
        DANGER_BEFORE,
        told("-1 20:20", "all"),
        entry(
            "-1 20:40",
            "none",
            spo2=95,
            resp_rate=16,
            pulse=80,
            temp_c=36.6,
            on_oxygen=True,
            oxygen="3 L nasal",
        ),
        order=EARLIER,
    ),
    "danger of a shift without a name, not looked at": in_shifts(
        one(DANGER_BEFORE, order=EARLIER), replace(SHIFT_BEFORE, name=None)
    ),
    "danger of two shifts ago, over, never told": in_shifts(
        one(
            entry("-1 08:00", pulse=150, spo2=85),
            entry("-1 10:00", pulse=80, spo2=95),
            order=order("-1 07:00"),
        ),
        Shift(at("-1 07:00"), at("-1 19:00")),
        SHIFT_BEFORE,
    ),
    "danger of the shift before, told and over now": after(
        LONG,
        handover(
            entry("-1 20:00", pulse=150),
            told("-1 20:10", "pulse"),
            entry("09:00", pulse=80),
            patients=(LONG,),
        ),
    ),
    "symptoms a day old, not asked again": one(
        entry("-1 18:30", "faint confused"),
        told("-1 18:40", "faint", "confused"),
        *(entry(clock) for clock in ("-1 20:00", "08:00", "09:00")),
        order=EARLIER,
    ),
    "symptoms a day old, asked again": one(
        entry("-1 18:30", "faint confused"),
        told("-1 18:40", "all"),
        *(entry(clock, "cough") for clock in ("-1 20:00", "08:00", "09:00")),
        order=EARLIER,
    ),
    "symptoms twice": one(
        *(entry(f"{h}:00", "faint chest_pain drowsy confused") for h in (10, 11))
    ),
    "within limits twice, on oxygen": one(
        entry("08:00", spo2=85, on_oxygen=False),
        told("08:10", "oxygen"),
        *(entry(clock, spo2=95, on_oxygen=True) for clock in ("10:00", "11:30")),
    ),
    "worst in the shift before, beyond the limit again": one(
        entry("-1 20:00", "faint", pulse=150), entry("09:00", "faint", pulse=135), order=EARLIER
    ),
    "beyond the limit in the shift before, worst now": one(
        entry("-1 20:00", pulse=135), entry("09:00", pulse=150), order=EARLIER
    ),
    "low values, the worst first": one(
        entry("09:00", spo2=80, pulse=150, temp_c=34.0, resp_rate=30),
        entry(
            "09:30",
            spo2=85,
            pulse=140,
            temp_c=34.5,
            resp_rate=28,
            on_oxygen=True,
            oxygen="2 L nasal",
        ),
    ),
    "danger just now": one(entry("18:30", "faint", spo2=80)),
    "dizzy and faint, no vital sign": one(entry("09:00", "dizzy faint")),
    "told, and of what is not recorded": one(ILL, told("08:20")),
    "settled by a person, not told": one(
        entry("08:00", pulse=150),
        entry("09:30", what="settled", note="Dr Quill: over", about=("pulse",)),
    ),
    "told and settled in this shift": one(
        entry("08:00", pulse=150), told("08:10", "pulse"), entry("10:00", pulse=80)
    ),
    "volume dropped in the shift before, a little better": one(
        *(entry(clock, volume_ml=1500) for clock in ("-1 10:00", "-1 11:00", "-1 12:00")),
        *(entry(clock, volume_ml=700) for clock in ("-1 20:00", "-1 21:00")),
        entry("09:00", volume_ml=1200),
        order=EARLIER,
    ),
    "told of what is not recorded, over": one(
        entry("08:00", pulse=150), told("08:10"), entry("10:00", pulse=80)
    ),
    "told twice": one(
        entry("08:00", pulse=150), *(told(clock, "pulse") for clock in ("08:10", "08:40"))
    ),
    "told five times": one(
        entry("08:00", pulse=150),
        *(told(f"{hour:02}:10", "pulse") for hour in range(8, 13)),
    ),
    "danger told and over within the shift": after(
        patient(),
        one(entry("08:00", pulse=150), told("08:10", "pulse"), entry("10:00", pulse=80)),
    ),
    "two dangers told and over within the shift": after(
        patient(),
        one(
            entry("08:00", "faint drowsy", pulse=150),
            told("08:10", "all"),
            entry("10:00", "none", pulse=80),
        ),
    ),
    "symptoms over, not told": one(entry("08:00", "faint drowsy"), entry("10:00", "none")),
    "dizzy with a fast pulse, no longer dizzy": one(
        entry("08:00", "dizzy", pulse=150), entry("10:00", "none")
    ),
    "dizzy with a fast pulse, pulse over": one(
        entry("08:00", "dizzy", pulse=150), entry("10:00", pulse=80)
    ),
    "held in this shift, precautions new": after(
        patient(),
        one(entry("09:00", what="hold", note="Dr Quill"), precautions="flat, spine not cleared"),
    ),
    "hold ended in this shift": after(
        patient(),
        one(
            entry("-1 20:00", what="hold", note="Dr Quill"),
            entry("09:00", what="resume"),
            order=EARLIER,
        ),
    ),
    "hold ended and held again in this shift": after(
        patient(),
        one(
            entry("-1 20:00", what="hold", note="Dr Quill"),
            entry("09:00", what="resume"),
            entry("10:00", what="hold", note="Dr Quill"),
            order=EARLIER,
        ),
    ),
    "fever, told": one(entry("09:00", temp_c=38.5), told("09:10", "temperature")),
    "falling, told": handover(
        *course(1390, 1280, 1150, 1050, 930, 820, 700), told("18:40", "volume"), patients=(LONG,)
    ),
    "held": one(entry("09:00", what="hold", note="Dr Quill: drain"), home_on=HOME),
    "held until tomorrow, exercised all the same": one(
        entry("09:00", what="hold", until="+1 09:00"), entry("10:00", volume_ml=900)
    ),
    "held, dizzy once": one(entry("08:00", what="hold", note="Dr Quill"), entry("09:00", "dizzy")),
    "held, much else met": one(
        entry("08:00", what="hold", note="Dr Quill"),
        *(entry(f"{h}:00", "dizzy", breaths=15, flow="blew", hold_s=1) for h in (10, 11, 12)),
        shown_back=None,
    ),
    "held since yesterday": one(entry("-1 16:00", what="hold"), order=EARLIER),
    "left with something open": after(
        patient(),
        with_gone(entry("08:00", what="left", patient_id="20002", note="ward 7, nurse told")),
    ),
    "left, on hold, nobody knows where to": with_gone(
        entry("-1 21:00", what="hold", patient_id="20002", note="Dr Quill")
    ),
    "left, without a note": with_gone(entry("08:00", what="left", patient_id="20002")),
    "from another unit": from_another_unit(DANGER_BEFORE),
    "the stay before left something open": after_an_earlier_stay(entry("-4 08:00", spo2=80)),
    "the stay before left nothing open": after_an_earlier_stay(entry("-4 08:00")),
    "no log of the shifts before": in_shifts(one(entry("09:00"), order=EARLIER)),
    "where from is not known": replace(
        one(entry("09:00"), order=EARLIER), from_elsewhere=frozenset({"10442"})
    ),
    "a gap in the logs": replace(
        one(entry("09:00"), order=EARLIER),
        gaps={"10442": (Gap(at("-1 19:00"), at("07:00")),)},
    ),
    "no order now, something open": without_order_now(DANGER_BEFORE),
    "no order now, danger over, not told": without_order_now(
        entry("-1 20:00", pulse=150), entry("09:00", pulse=80)
    ),
    "every danger sign looked for, and none": one(
        entry("-1 20:00", volume_ml=1400),
        entry("09:00", "none", volume_ml=1400, spo2=97, resp_rate=16, pulse=80, temp_c=37),
        order=EARLIER,
    ),
    "precautions": one(entry("09:00"), precautions="flat, spine not cleared"),
    "not seen for long": one(entry("08:00")),
    "in danger, told, not looked at for long": one(
        entry("08:00", pulse=150), told("08:10", "pulse"), entry("12:00")
    ),
    "never taught": one(entry("08:00"), taught=False, shown_back=None),
    "going home, all disputed": one(
        home_on=HOME,
        device_given=Doubt.DISPUTED,
        device_labelled=Doubt.DISPUTED,
        taught=Doubt.DISPUTED,
        shown_back=Doubt.DISPUTED,
    ),
    "teaching disputed": one(entry("08:00"), taught=Doubt.DISPUTED, shown_back=None),
    "teaching not recorded, shown back": one(entry("08:00"), taught=None),
    "never started, teaching not recorded": one(taught=None),
    "held, teaching not recorded": one(
        entry("-1 20:00"),
        entry("08:00", what="hold", note="Dr Quill"),
        order=EARLIER,
        taught=None,
        shown_back=None,
    ),
    "held, teaching not recorded, shown back": one(
        entry("-1 20:00"),
        entry("08:00", what="hold", note="Dr Quill"),
        order=EARLIER,
        taught=None,
    ),
    "held, never started, all in place": one(
        entry("10:00", what="hold", note="Dr Quill"), order=order("-1 08:00")
    ),
    "few breaths, blown once": one(
        entry("07:10", flow="blew"), entry("08:10", breaths=1), entry("09:10", breaths=1)
    ),
    "few breaths, blown into": one(*(entry(f"{h:02}:10", flow="blew") for h in (7, 8, 9))),
    "few breaths, one blown into, two too fast": one(
        entry("07:10", flow="blew"),
        *(entry(f"{h:02}:10", breaths=1, flow="fast") for h in (8, 9)),
    ),
    "few breaths, too fast": one(*(entry(f"{h:02}:10", breaths=1, flow="fast") for h in (7, 8, 9))),
    "few breaths without a device": one(
        *(entry(f"{h:02}:10", breaths=1) for h in (7, 8, 9)), device_given=False
    ),
    "held, few breaths, blown into": one(
        *(entry(f"{h:02}:10", flow="blew") for h in (7, 8, 9)),
        entry("10:00", what="hold", note="Dr Quill"),
    ),
    "held, few breaths": one(
        *(entry(f"{h:02}:10", breaths=1) for h in (7, 8, 9)),
        entry("10:00", what="hold", note="Dr Quill"),
    ),
    "volume very low by predicted weight": one(
        *(entry(f"{h:02}:00", volume_ml=500) for h in (9, 10)),
        sex="female",
        height_cm=170,
        born=None,
    ),
    "volume very low by the reference at 80": one(
        *(entry(f"{h:02}:00", volume_ml=500) for h in (9, 10)),
        sex="female",
        height_cm=170,
        born=date(1935, 4, 2),
    ),
    "at scale yesterday and today": one(
        entry("-1 20:00", volume_ml=2500),
        entry("09:00", volume_ml=2600),
        entry("10:00", volume_ml=2500),
        order=EARLIER,
        device_scale_ml=2500,
    ),
    "at scale yesterday, fallen with signs": one(
        *usual(2500),
        *(entry(f"{h}:00", volume_ml=1500, temp_c=38.5) for h in (10, 11)),
        order=EARLIER,
        device_scale_ml=2500,
    ),
    "at scale yesterday, fallen": one(
        *usual(2500),
        *(entry(f"{h}:00", volume_ml=1900, temp_c=37, spo2=97, resp_rate=15) for h in (10, 11)),
        order=EARLIER,
        device_scale_ml=2500,
    ),
    "away often": one(
        *(entry(f"{h:02}:00", what="away", until=f"{h:02}:50") for h in range(8, 14)),
        entry("15:00"),
    ),
    "exercised on hold, told": one(
        entry("09:00", what="hold", note="Dr Quill"), entry("10:00"), told("11:00", "all")
    ),
    "nothing charted without a device": one(entry("-1 20:00"), order=EARLIER, device_given=False),
    "one volume, charted by the patient": one(
        entry("09:00", volume_ml=900, seen_by=SeenBy.PATIENT)
    ),
    "painful and in danger before the first shift": in_shifts(
        one(entry("06:00", pulse=150, pain=8), order=order("05:00"))
    ),
    "own baseline reached": one(entry("09:00", volume_ml=1900), baseline_ml=1900, order=order()),
    "going home, nothing at hand": one(
        home_on=HOME, device_given=None, device_labelled=None, shown_back=False
    ),
    "going home, one danger": one(entry("08:00", pulse=150), home_on=HOME),
    "going home, two dangers not settled, no label": one(
        entry("08:00", spo2=85, pulse=150), home_on=HOME, device_labelled=None
    ),
    "going home, held, all in place": one(
        entry("09:00", what="hold", note="Dr Quill"), home_on=HOME
    ),
    "going home, stopped": one(home_on=HOME, order=order("-1 08:00", "10:00", every_h=2)),
    "a blank row": with_a_blank_row(one()),
    "perhaps under two ids": under_two_ids(one(entry("09:00"))),
    "facts in dispute": one(
        entry("09:00"),
        bed="",
        order=order(
            spo2_min=94, disputed_limits=("spo2_min",), not_known=("breaths", "goal_ml", "hold_s")
        ),
        device_labelled=Doubt.DISPUTED,
        shown_back=Doubt.DISPUTED,
        precautions="flat / spine",
        disputed=(
            *(Disputed("bed", ("12A", "5")), Disputed("precautions", ("flat", "spine"))),
            *(Disputed("reason", ("hip", "knee")), Disputed("baseline_ml", (1900, 1400))),
            *(Disputed("goal_ml", (1500, 1000)), Disputed("spo2_min", (88, 94))),
            *(Disputed("order_hold_s", (3, 8, 5)), Disputed("order_breaths", (8, 5))),
            *(
                Disputed("height_cm", (160, 170)),
                Disputed("temp_max", (39, 39.5)),
                Disputed("weight_kg", (70, 77)),
                Disputed("usual_symptoms", (("cough",), ("wheeze",))),
            ),
        ),
    ),
    "how often breaths are due is in dispute": one(
        entry("09:00"),
        order=order(not_known=("every_h",)),
        disputed=(Disputed("order_every_h", (2, 4)),),
    ),
    "the end of the order is in dispute": one(
        order=order(not_known=("stop",)),
        disputed=(Disputed("order_stop", (at("10:00"), at("12:00"))),),
    ),
    "nothing of the order can be read but its start": one(
        entry("09:00", hold_s=3), order=order(not_known=("breaths", "every_h", "hold_s", "stop"))
    ),
    "only the start of an order is stated": one(
        entry("09:00"), order=order(unstated=("breaths", "every_h"))
    ),
    "an order with periods": one(
        entry("09:00"),
        earlier_orders=(
            order("-1 07:00", every_h=2),
            order("08:00", "11:00", breaths=1),
            order("13:00", not_known=("breaths",)),
            order("15:00", breaths=5),
        ),
        order=order("+1 07:00", breaths=8, every_h=4),
    ),
    "an order that stops in the shift and another one tomorrow": one(
        entry("09:00"),
        earlier_orders=(order("-1 07:00", "10:00"),),
        order=order("+1 07:00", breaths=8),
    ),
    "later orders that change how the patient is judged": one(
        entry("09:00"),
        earlier_orders=(
            order("-1 07:00", goal_ml=1500),
            order("+1 07:00", goal_ml=900, hold_s=3, spo2_min=85, comfort_care=True),
        ),
        order=order("+2 07:00", goal_ml=900, hold_s=3, usual_symptoms=(Symptom.CONFUSED,)),
    ),
    "confused as usual": one(entry("09:00"), order=order(usual_symptoms=(Symptom.CONFUSED,))),
    "confused as usual, own limit": one(
        entry("09:00"), order=order(usual_symptoms=(Symptom.CONFUSED,), pulse_max=120)
    ),
    "levelled off": handover(
        *two_of_every_day(500, 700, 1100, 1100, 1120, 1180, 1190, 1200, 1195, 1200),
        patients=(patient(order=order("-5 05:00", goal_ml=3000)),),
    ),
    "steady": handover(
        *two_of_every_day(1000, 1010, 990, 1000, 1010, 990, 1000, 1010, 990, 1000),
        patients=(patient(order=order("-5 05:00", goal_ml=3000)),),
    ),
    "rising, and fell": handover(
        *two_of_every_day(600, 750, 900, 1050, 1200, 1350, 1500, 1650, 1800, 1950),
        *(entry(f"18:{minute}", volume_ml=900) for minute in (10, 20, 30)),
        patients=(patient(order=order("-5 05:00", goal_ml=3000)),),
    ),
    "two blocks only": handover(*course(None, None, None, None, None, 900, 950), patients=(LONG,)),
    "volume dropped, two readings": one(
        *usual(900), *(entry(f"{h}:00", volume_ml=680) for h in (10, 11)), order=order("-1 08:00")
    ),
    "volume dropped, two readings, lying": one(
        *usual(1500),
        *(entry(f"{h}:00", volume_ml=1150, position="lying") for h in (10, 11)),
        order=order("-1 08:00"),
    ),
    "volume dropped deep, no sign": one(
        *usual(1500), *(entry(f"{h}:00", volume_ml=900) for h in (10, 11)), order=order("-1 08:00")
    ),
    "volume dropped early": one(
        *(entry(f"{h}:00", volume_ml=ml) for h, ml in ((10, 900), (11, 350)))
    ),
    **{
        f"high oxygen, {name}": one(
            entry("09:00", spo2=95, on_oxygen=True), last, order=order(spo2_min=88, spo2_max=92)
        )
        for name, last in {
            "over again": entry("11:00", spo2=90, on_oxygen=True),
            "low now": entry("11:00", spo2=85, on_oxygen=True),
            "on air now": entry("11:00", on_oxygen=False),
            "with breathing": entry("11:00", spo2=98, on_oxygen=True, resp_rate=26),
            "with breathing, over again": entry("11:00", spo2=90, on_oxygen=True, resp_rate=26),
        }.items()
    },
    "last one off form": one(
        entry("09:00", volume_ml=1000), entry("11:00", volume_ml=400, flow="fast")
    ),
    "last one in a flow that is not understood": one(
        entry("09:00", volume_ml=1000), entry("11:00", volume_ml=400, flow="unreadable")
    ),
    "last one off form, before the shift": one(
        entry("-1 09:00", volume_ml=400, flow="fast"), order=order("-1 08:00")
    ),
    "going home, comfort care": one(home_on=HOME, order=order(comfort_care=True, by="Dr Quill")),
    "volume dropped early, breathless": one(
        entry("10:00", volume_ml=1500), entry("11:00", "breathless", volume_ml=700)
    ),
    "held, and nothing else": one(
        *(entry(f"{hour:02}:40", breaths=10, volume_ml=1800, spo2=97) for hour in range(7, 18)),
        entry("17:50", what="hold", note="Dr Quill"),
    ),
    "danger, order of no known start": of_no_known_start(one(entry("09:00", "faint", what="seen"))),
    "danger, order of no known start after another": of_no_known_start(one(ILL), EARLIER),
    "danger that is over, order of no known start": of_no_known_start(
        one(entry("08:00", spo2=80), told("08:10", "all"), entry("10:00", spo2=96))
    ),
    "danger that was over and is there again": after(
        patient(order=EARLIER),
        one(
            *(entry("-1 20:00", spo2=80), told("-1 20:10", "all")),
            *(entry("09:00", spo2=95), entry("11:00", spo2=80)),
            order=EARLIER,
        ),
    ),
    "dangers that were over and are there again, and a new one": after(
        patient(order=EARLIER),
        one(
            *(entry("-1 20:00", spo2=80, resp_rate=32), told("-1 20:10", "all")),
            entry("09:00", spo2=95, resp_rate=16),
            *(entry("10:00", "faint"), entry("11:00", spo2=80, resp_rate=32)),
            order=EARLIER,
        ),
    ),
}
