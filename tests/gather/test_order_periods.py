"""An order has periods: each minute is due by the order of that minute, from log to sheet."""

import re

import pytest

from handoff.log.blank import starter_yaml
from handoff.log.fields import ORDER_PARTS
from handoff.measure import measure
from handoff.model.measures import Adherence
from handoff.model.ward import Handover, Order
from handoff.run.blank import blank_after
from tests.support.bad_logs import PATIENT
from tests.support.logs import hand_over, log_of
from tests.support.sheets import results, sheet_words, unit_page, words
from tests.support.wards import ID, codes

UNIT = "unit: {name: Harbour 3 East, time_zone: America/Halifax, quiet_hours: none}\n"
NIGHT = "shift: {name: night, start: 2026-03-06 19:00, end: 2026-03-07 07:00}\n"
DAY = "shift: {name: day, start: 2026-03-07 07:00, end: 2026-03-07 19:00}\n"
SIX = '- {patient: "10442", at: 07:00, until: 13:00, breaths: 30, volume_ml: 1100}\n'
FIVE = '- {patient: "10442", at: 13:00, until: 19:00, breaths: 30, volume_ml: 1100}\n'
WRITTEN = "  order: {breaths: 10, start: 2026-03-06 10:00}\n"
assert WRITTEN in PATIENT


def of_day(order: str, *before: str, rows: str = SIX + FIVE, rows_before: str = "") -> Handover:
    """The hand-over of a day with this order, of 60 breaths unless other rows are given, after
    nights with other orders.
    """
    logs = [(order, DAY, rows, "day.yaml")]
    logs += [
        (each, NIGHT, rows_before, f"night{number}.yaml") for number, each in enumerate(before)
    ]
    return hand_over(
        *(
            log_of(
                f"{UNIT}{shift}patients:\n{PATIENT.replace(WRITTEN, written)}entries:\n{rows}", name
            )
            for written, shift, rows, name in logs
        )
    )


def one(order: str) -> str:
    """A patient's order, as a group of fields."""
    return f"  order: {{{order}}}\n"


def listed(*orders: str) -> str:
    """A patient's orders, as a list."""
    return "".join(["  orders:\n", *(f"  - {{{order}}}\n" for order in orders)])


def adherence(given: Handover) -> Adherence:
    """The measured adherence of the one patient."""
    return measure(given)[ID].adherence


def order_of(given: Handover) -> Order:
    """The order in force when the shift is handed over."""
    return measure(given)[ID].order


TEN = "start: 2026-03-06 10:00, breaths: 10"
AT_ONE = "start: 2026-03-07 13:00, breaths: 5"


@pytest.mark.parametrize(
    "given",
    [of_day(listed(TEN, AT_ONE)), of_day(listed(AT_ONE, TEN)), of_day(one(AT_ONE), one(TEN))],
    ids=["one log", "in another order", "the later in a log of its own"],
)
def test_an_order_of_13_00_leaves_the_morning_due_by_the_one_before(given: Handover) -> None:
    found = adherence(given)
    # Six hours of 10 breaths, of which 5 an hour are done, and six of 5.
    assert (found.credited, found.breaths_due) == (60, 90)
    assert [round(slot.due) for slot in found.slots] == [10] * 6 + [5] * 6
    assert "until 13:00 10 breaths every hour, then 5 breaths every hour while awake" in (
        sheet_words(given, ID)
    )


def test_a_row_with_another_start_begins_a_period_and_disagrees_with_nothing() -> None:
    head = (
        "unit,time_zone,quiet_hours,shift_start,shift_end,patient_id,name,born,bed,order_start,"
        "order_breaths,goal_ml,spo2_min,at,breaths\n"
    )
    unit = "Harbour 3 East,America/Halifax,none,2026-03-07 07:00,2026-03-07 19:00,"
    who = '10442,"Larkspur, Odile",1958-04-02,12A,'
    rows = (
        f"{unit}{who}2026-03-06 10:00,10,1500,88,07:30,8\n,,,,,{who}2026-03-07 13:00,5,,,13:30,4\n"
    )
    log = log_of(head + rows, "day.csv")
    assert [(each.code, each.place.line) for each in log.findings] == [("new-order", 3)]
    given = hand_over(log)
    assert adherence(given).breaths_due == 90
    # A blank goal and blank limits are those of the period before.
    assert (order_of(given).goal_ml, order_of(given).spo2_min) == (1500, 88)


def test_the_same_start_with_other_values_is_a_change_from_the_later_logs_shift_start() -> None:
    given = of_day(one("start: 2026-03-06 10:00, breaths: 5"), one(TEN))
    assert adherence(given).breaths_due == 60
    assert "order-changed" in codes(given)
    assert "order changed (breaths)" in sheet_words(given, ID)
    night, day = given.periods[ID]
    assert (night.breaths, day.breaths, day.start) == (10, 5, given.shift.start)
    # Written once more as it was is no change.
    assert "order-changed" not in codes(of_day(one(TEN), one(TEN)))


@pytest.mark.parametrize(
    ("order", "says"),
    [
        (listed(TEN, TEN.replace("10", "8")), "order not readable, breaths disputed: 10 or 8"),
        (one(f"{TEN}, every_h: q2h"), "order not readable, every so many hours not understood"),
        (one(TEN.replace("breaths: 10", "breaths: ten")), "readable, breaths not understood"),
        (one(f"{TEN}, stop: soon"), "order not readable, its end not understood"),
    ],
)
def test_an_order_that_cannot_be_read_makes_nothing_due_and_nothing_counted(
    order: str, says: str
) -> None:
    order = order.replace("2026-03-06 08:00", "2026-03-06 10:00")
    given = of_day(order.replace("start: 2026-03-06 8:00", "start: 2026-03-06 10:00"))
    found = adherence(given)
    assert (found.breaths_due, found.percent, found.breaths_done) == (0, None, 60)
    words = sheet_words(given, ID)
    assert says in words
    assert "Ask how many breaths are ordered, how often and until when" in words
    assert "The order cannot be read here: no breaths are counted as due." in words
    assert "every hour" not in words
    assert "order-not-readable" in codes(given)


def test_from_an_order_that_cannot_be_read_on_nothing_is_due_and_before_it_all_is() -> None:
    given = of_day(listed(TEN, AT_ONE, AT_ONE.replace("breaths: 5", "breaths: 8")))
    found = adherence(given)
    assert (found.credited, found.breaths_due) == (30, 60)
    said = "until 13:00 10 breaths every hour, then order not readable, breaths disputed: 5 or 8"
    assert said in sheet_words(given, ID)


def test_comfort_care_without_an_exercise_has_its_stop_written_and_no_finding() -> None:
    """As the finding's own advice has it: comfort care is still ordered, and nothing is due."""
    comfort = "start: 2026-03-07 15:00, comfort_care: yes"
    assert "order-not-stated" in codes(of_day(one(comfort)))
    advised = of_day(one(f"{comfort}, stop: 2026-03-07 15:01"), one(TEN))
    assert "order-not-stated" not in codes(advised)
    assert adherence(advised).breaths_due == pytest.approx(80, abs=0.2)
    assert "COMFORT CARE ORDERED, since 7 Mar 15:00" in sheet_words(advised, ID)


def test_an_order_with_its_start_alone_says_that_the_rest_is_the_usual() -> None:
    given = of_day(one("start: 2026-03-06 10:00"))
    assert adherence(given).breaths_due == 120
    assert "not stated; usual: 10 breaths every hour while awake" in sheet_words(given, ID)
    assert "order-not-stated" in codes(given)
    assert "order-not-stated" not in codes(of_day(one("start: 2026-03-06 10:00"), one(TEN)))


def test_between_a_stop_and_the_next_order_nothing_is_due() -> None:
    given = of_day(listed(f"{TEN}, stop: 2026-03-07 09:00", AT_ONE))
    assert adherence(given).breaths_due == 20 + 30
    assert "until 09:00 10 breaths every hour, from 13:00 5 breaths every hour" in (
        sheet_words(given, ID)
    )


def test_an_order_that_begins_after_the_shift_is_said_and_not_yet_due() -> None:
    given = of_day(listed(TEN, "start: 2026-03-07 20:00, breaths: 5"))
    assert adherence(given).breaths_due == 120
    assert order_of(given).breaths == 10
    assert "from 7 Mar 20:00: 5 breaths every hour" in sheet_words(given, ID)


def test_an_order_that_another_follows_is_not_said_to_end() -> None:
    following = listed(f"{TEN}, stop: 2026-03-09 10:00", "start: 2026-03-08 08:00, breaths: 5")
    said = sheet_words(of_day(following), ID)
    assert "until 8 Mar 08:00 10 breaths every hour, then 5 breaths every hour" in said
    assert "Ordered until" not in said
    last = listed(TEN, "start: 2026-03-08 08:00, breaths: 5, stop: 2026-03-09 10:00")
    assert "Ordered until 9 Mar 10:00." in sheet_words(of_day(last), ID)


def test_sheet_and_summary_say_what_a_later_order_changes() -> None:
    given = of_day(
        listed(f"{TEN}, goal_ml: 1500", "start: 2026-03-08 08:00, comfort_care: yes, spo2_min: 85")
    )
    other = "(SpO2 at least 85 %, comfort care)"
    said = f"until 8 Mar 08:00 10 breaths every hour, then number not stated {other}."
    assert said in sheet_words(given, ID)
    (row,) = unit_page(given).rows
    (later,) = (each for each in row.alerts if each.startswith("LATER ORDER: from 8 Mar 08:00"))
    assert later == f"LATER ORDER: from 8 Mar 08:00: number not stated {other}"
    plain = of_day(listed(TEN, "start: 2026-03-08 08:00, breaths: 5"))
    assert not any("LATER" in each for each in unit_page(plain).rows[0].alerts)


def test_the_slots_keep_the_hours_of_the_first_order_of_the_shift() -> None:
    given = of_day(listed(f"{TEN}, every_h: 2", f"{AT_ONE}, every_h: 4"))
    found = adherence(given)
    assert len(found.slots) == 6
    # By the minute: an hour of 10 in two, then of 5 in four.
    assert [slot.due for slot in found.slots] == [10, 10, 10, 2.5, 2.5, 2.5]


def test_a_log_without_the_order_ends_it() -> None:
    given = of_day("", one(TEN))
    assert given.periods[ID][-1].stop == given.shift.start
    assert ID in given.lapsed


@pytest.mark.parametrize(
    ("order", "before", "is_left_out"),
    [
        ("", TEN, True),
        ("  order: {}\n", TEN, True),
        ("", f"{TEN}, stop: 2026-03-09 10:00", True),
        ("", f"{TEN}, stop: 2026-03-07 07:00", False),
        (one(TEN), TEN, False),
        (one(f"{TEN}, stop: 2026-03-07 07:00"), TEN, False),
    ],
    ids=["left out", "blank", "stops later", "stopped", "copied", "its stop written"],
)
def test_an_order_that_a_log_leaves_out_without_a_stop_is_said_with_its_patient(
    order: str, before: str, *, is_left_out: bool
) -> None:
    given = of_day(order, one(before))
    found = [each for each in given.findings if each.code == "order-left-out"]
    assert bool(found) is is_left_out
    for each in found:
        assert (each.place.file, each.severity) == ("day.yaml", "warning")
        assert f"no order for {ID}" in each.message
        assert "2026-03-06 10:00" in each.message


OLD = "start: 2026-03-06 10:00, breaths: 10, goal_ml: 1500, spo2_min: 88"
LEFT = '- {patient: "10442", at: 10:00, what: left, note: home}\n'
BACK = "start: 2026-03-07 16:00, breaths: 10"
SEEN = '- {patient: "10442", at: 17:30, breaths: 10, volume_ml: 900, spo2: 90}\n'


@pytest.mark.parametrize(
    ("order", "before"),
    [(one(BACK), one(OLD)), (listed(OLD, BACK), one(OLD)), (listed(OLD, BACK), one(TEN))],
    ids=["the new order alone", "the old one copied", "the old one changed"],
)
def test_who_left_and_is_back_with_an_order_has_nothing_of_the_order_before(
    order: str, before: str
) -> None:
    given = of_day(order, before, rows=LEFT + SEEN)
    order_now = order_of(given)
    assert (order_now.goal_ml, order_now.spo2_min) == (None, None)
    # Three hours before 10:00 and three from 16:00 on.
    assert adherence(given).breaths_due == 30 + 30
    (found,) = (each for each in given.findings if each.field == "what")
    assert (found.code, found.severity) == ("back-after-left", "warning")
    assert "2026-03-07 16:00" in found.message
    words = sheet_words(given, ID)
    assert "SpO2 90 %" in words
    assert "1,500" not in words


def test_who_is_back_before_the_order_is_written_may_be_seen_and_does_no_exercise() -> None:
    seen = SEEN.replace("17:30, breaths: 10, volume_ml: 900", "15:30")
    given = of_day(one(BACK), one(OLD), rows=LEFT + seen + SEEN)
    assert "back-after-left" in codes(given)
    still_here = LEFT + SEEN.replace("17:30", "11:30") + SEEN
    given = of_day(one(BACK), one(OLD), rows=still_here)
    assert "charted-after-left" in codes(given)
    assert (adherence(given).breaths_due, order_of(given).spo2_min) == (120, 88)


def test_who_is_back_in_the_next_log_with_the_old_order_copied_has_nothing_of_it() -> None:
    night_row = LEFT.replace("10:00", '"2026-03-07 01:00"')
    new = "start: 2026-03-07 08:00, breaths: 10"
    given = of_day(listed(OLD, new), one(OLD), rows=SEEN, rows_before=night_row)
    assert (adherence(given).breaths_due, order_of(given).spo2_min) == (110, None)
    assert "back-after-left" in codes(given)
    # With the new order alone it is a stay of its own.
    given = of_day(one(new), one(OLD), rows=SEEN, rows_before=night_row)
    assert (adherence(given).breaths_due, order_of(given).spo2_min) == (110, None)
    assert ID in given.stay_before
    assert codes(given).isdisjoint({"charted-after-left", "back-after-left"})


def test_the_new_orders_of_a_log_are_one_note_that_hides_no_other() -> None:
    def patient(number: int, order: str) -> str:
        of_one = PATIENT.replace(WRITTEN, order).replace("10442", f"1044{number}")
        return of_one.replace("12A", f"1{number}").replace("Larkspur", f"L{'abcdefg'[number] * 4}")

    orders = listed(TEN, AT_ONE)
    patients = [patient(number, orders) for number in range(5)]
    log = log_of(f"{UNIT}{DAY}patients:\n{''.join(patients)}entries: []\n", "day.yaml")
    (found,) = log.findings
    assert (found.code, found.severity, len(found.related)) == ("new-order", "note", 4)
    assert all(f"1044{number} 2026-03-07 13:00" in found.message for number in range(5))
    # Two halves of a shift, each with an order of its own, are as short.
    halves = [[patient(number, one(order)) for number in range(5)] for order in (TEN, AT_ONE)]
    logs = [
        log_of(f"{UNIT}{DAY}patients:\n{''.join(half)}entries: []\n", f"{name}.yaml")
        for name, half in zip("ab", halves, strict=True)
    ]
    (found,) = (each for each in hand_over(*logs).findings if each.code == "new-order")
    assert len(found.related) == 4


def test_an_order_whose_start_cannot_be_read_is_left_out_and_mixed_into_none() -> None:
    given = of_day(listed(TEN, "start: soon, breaths: 5, goal_ml: 900"))
    assert adherence(given).breaths_due == 120
    assert order_of(given).goal_ml is None
    (found,) = (each for each in given.findings if each.code == "other-order-without-start")
    assert ID in found.message
    assert "the order of 2026-03-06 10:00 alone" in found.message
    assert "patient-disagrees" not in codes(given)
    assert "order-without-start" not in codes(given)


@pytest.mark.parametrize(("bed", "breaths"), [("12A", "5"), ("5", "10")])
def test_a_dispute_on_a_part_of_an_order_offers_a_start_of_its_own(bed: str, breaths: str) -> None:
    other = PATIENT.replace("12A", bed).replace("breaths: 10", f"breaths: {breaths}")
    patients = (PATIENT + other, PATIENT, other)
    one_log, *halves = (
        log_of(f"{UNIT}{DAY}patients:\n{each}entries: []\n", f"{number}.yaml")
        for number, each in enumerate(patients)
    )
    found = [*one_log.findings, *hand_over(*halves).findings]
    disputes = [each for each in found if each.code in {"patient-disagrees", "logs-disagree"}]
    assert len(disputes) == 2
    said = "if the order changed, give the new one its own start, beside the old"
    assert all((said in each.fix) is (breaths == "5") for each in disputes)


def test_a_row_before_the_order_says_that_its_signs_are_judged_and_they_are() -> None:
    early = '- {patient: "10442", at: 08:00, breaths: 10, volume_ml: 900, spo2: 84}\n'
    given = of_day(one("start: 2026-03-07 09:00, breaths: 10"), rows=early)
    (found,) = (each for each in given.findings if each.code == "before-order")
    assert "its breaths and volume are not counted; its signs are judged" in found.message
    assert (adherence(given).breaths_done, adherence(given).breaths_due) == (0, 100)
    assert "SpO2 84 %" in sheet_words(given, ID)


@pytest.mark.parametrize(
    ("row", "named"),
    [
        ("what: away, until: 08:30, note: theatre", False),
        ("what: asleep, until: 08:30", False),
        ("spo2: 95", False),
        ("breaths: 5", True),
        ("volume_ml: 900", True),
        ("what: hold, note: Dr Quill", True),  # a hold before the stay counts for nothing
    ],
)
def test_only_what_does_not_count_before_the_order_is_named(row: str, named: bool) -> None:
    early = f'- {{patient: "10442", at: 08:00, {row}}}\n'
    given = of_day(one("start: 2026-03-07 09:00, breaths: 10"), rows=early)
    assert ("before-order" in {each.code for each in given.findings}) is named


def test_every_part_of_an_order_may_stand_in_a_list() -> None:
    cells = {"start": "2026-03-06 10:00", "stop": "2026-03-09 10:00", "by": "Dr T. Quill"}
    cells |= {"usual_symptoms": "[confused]", "comfort_care": "yes", "goal_ml": "1500"}
    cells |= {"temp_max": "38", "spo2_max": "96", "resp_rate_max": "28", "pulse_max": "110"}
    names = (part for part in ORDER_PARTS.values() if part not in cells)
    cells |= dict.fromkeys(names, "50")
    cells |= {"every_h": "2", "resp_rate_min": "10"}
    text = ", ".join(f"{name}: {cell}" for name, cell in cells.items())
    listed_order, grouped = of_day(listed(text)), of_day(one(text))
    assert order_of(listed_order) == order_of(grouped)
    assert listed_order.patients[0].unread == ()


LATE = "start: 2026-03-08 09:00, breaths: 5"


def started_after(given: Handover) -> str:
    """The log of the night after a day, as it is begun, with its times filled in."""
    blank = blank_after(results(given))
    made = starter_yaml(blank, words(given.unit.time_zone).say).decode()
    for name, moment in (("start", "2026-03-07 19:00"), ("end", "2026-03-08 07:00")):
        made = re.sub(rf"(?m)^  {name}:[^#]*#", f"  {name}: {moment} #", made, count=1)
    return made


@pytest.mark.parametrize(
    "day",
    [
        of_day(listed(TEN, LATE)),
        of_day(listed(f"{TEN}, stop: 2026-03-08 08:00", LATE)),
        of_day(listed("start: 2026-03-06 10:00, breaths: 8", LATE), one(TEN)),
    ],
    ids=["two orders", "the first with a stop of its own", "the first changed by day"],
)
def test_a_log_begun_from_the_one_before_has_no_order_changed(day: Handover) -> None:
    night = log_of(started_after(day), "night.yaml")
    given = hand_over(*day.logs, night)
    assert given.shift.start == day.shift.end
    assert "order changed" not in sheet_words(given, ID)
    assert "order-changed" not in codes(given)
    now, before = given.periods[ID][-1], day.periods[ID][-1]
    assert (now.start, now.stop, now.breaths) == (before.start, before.stop, before.breaths)


# Dangers: each row is judged by the order of its minute


def with_rows(order: str, rows: str) -> str:
    """The words of the sheet of a day with these rows."""
    text = f"{UNIT}{DAY}patients:\n{PATIENT.replace(WRITTEN, order)}entries:\n{rows}"
    return sheet_words(hand_over(log_of(text, "day.yaml")), ID)


def row(at: str, more: str) -> str:
    return f'- {{patient: "10442", at: {at}, {more}}}\n'


LOW = row("08:30", "spo2: 84, on_oxygen: no")


@pytest.mark.parametrize("later", ["spo2_min: 82", "spo2_min: 82, breaths: 5"])
def test_a_later_order_takes_no_earlier_danger_away(later: str) -> None:
    order = listed(TEN, f"start: 2026-03-07 18:00, {later}")
    words = with_rows(order, LOW + row("17:30", "spo2: 84, on_oxygen: no"))
    assert "ESCALATE" in words
    assert "SpO2 84 % at 17:30, on air; limit 91 % or less" in words


def test_comfort_care_ordered_later_says_what_was_open() -> None:
    words = with_rows(listed(TEN, "start: 2026-03-07 15:00, comfort_care: yes"), LOW)
    assert "COMFORT CARE ORDERED, since 7 Mar 15:00" in words
    assert "Open before, not followed now: low oxygen." in words


def test_a_later_stricter_limit_makes_no_danger_of_what_was_fine() -> None:
    order = listed(TEN, "start: 2026-03-07 13:00, spo2_min: 94")
    assert "Low oxygen" not in with_rows(order, row("08:00", "spo2: 93, on_oxygen: no"))
    assert "Low oxygen" in with_rows(order, row("13:30", "spo2: 93, on_oxygen: no"))


def test_the_same_value_again_under_the_old_limit_settles_nothing() -> None:
    order = listed(TEN, "start: 2026-03-07 18:00, resp_rate_max: 30")
    told = row("08:40", "what: told, about: breathing, note: Dr Quill")
    fast = row("08:00", "resp_rate: 28") + told
    words = with_rows(order, fast + row("12:00", "resp_rate: 28"))
    assert "ESCALATE" in words
    assert "Settled by what is charted" not in words
    assert "ESCALATE" not in with_rows(order, fast + row("18:30", "resp_rate: 28"))


def test_of_two_orders_at_one_time_no_looser_limit_is_used() -> None:
    order = listed(TEN, AT_ONE, f"{AT_ONE.replace('breaths: 5', 'breaths: 8')}, spo2_min: 86")
    assert "Low oxygen" in with_rows(order, row("13:30", "spo2: 88, on_oxygen: no"))


def test_high_oxygen_is_judged_by_the_order_of_its_minute() -> None:
    own = f"{TEN}, spo2_min: 88, spo2_max: 92"
    order = listed(own, "start: 2026-03-07 13:00, spo2_min: 92, spo2_max: 100")
    high = "spo2: 97, on_oxygen: yes, oxygen: 4 L mask"
    assert "High oxygen" in with_rows(order, row("08:00", high))
    assert "High oxygen" not in with_rows(order, row("14:00", high))
