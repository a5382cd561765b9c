"""The slow, plain computation of the matters: by hand, and the stage beside it on random stays.

The first part tests the plain one, cell by cell and decision by decision. The last shift is the day
shift of the builders, 07:00 to 19:00; the shifts before it have 12 h each. `1` in `-1 08:00` is the
day before. Limits: SpO2 91 % or under, breathing 8 and 25, pulse 40 and 131, temperature 35.0 C.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

import pytest
from msgspec.structs import replace

from handoff.judge import follow
from handoff.model.ward import Entry, Handover, Listing, Order, SeenBy, Shift
from tests.support.builders import (
    SHIFT,
    UNIT,
    at,
    default_limits,
    entry,
    order,
    patient,
)
from tests.support.how_many import few
from tests.support.plain_matters import plain_matters
from tests.support.random_stays import random_handover

# Together these have each cell of the table twice or more, where two of the first 370 have it.
EVERY_CELL = (
    *(6, 7, 13, 16, 20, 25, 31, 37, 53, 56, 67, 73, 82, 84, 85, 88, 103, 115, 138, 141, 145, 147),
    *(153, 160, 164, 168, 173, 176, 189, 192, 196, 197, 202, 203, 204, 205, 211, 215, 226, 229),
    *(236, 239, 243, 255, 256, 281, 294, 296, 300, 307, 314, 322, 324, 332, 335, 377),
)
RANDOM_STAYS = sorted({*EVERY_CELL, *range(20 if few(1) == 1 else few(60))})
LIMITS = default_limits()
HALF_DAY = timedelta(hours=12)
STAY_START = at("-9 07:00")
SELF = SeenBy.PATIENT


def row(clock: str, symptoms: str = "", /, oxygen: str | None = None, **fields: Any) -> Entry:
    """An observation; `oxygen` as written says that the patient is on it."""
    made = entry(clock, symptoms, **{"what": "seen", **fields})
    if oxygen is None:
        return made
    return replace(made, signs=replace(made.signs, oxygen=oxygen, on_oxygen=True))


def told(clock: str, *about: str, note: str | None = "Dr P. Marwood") -> Entry:
    return entry(clock, what="told", about=about, note=note)


def over(clock: str, *about: str, note: str | None = "Dr P. Marwood") -> Entry:
    return entry(clock, what="settled", about=about, note=note)


def breath(clock: str, volume_ml: float, /, **fields: Any) -> Entry:
    return entry(clock, volume_ml=volume_ml, **fields)


def shifts(count: int) -> list[Shift]:
    """The last shift and those before it, the earliest first."""
    return [
        Shift(SHIFT.start - number * HALF_DAY, SHIFT.end - number * HALF_DAY)
        for number in reversed(range(count))
    ]


def listings(given: list[Shift], orders: list[Order | None] | None = None) -> list[Listing]:
    ordered = orders or [order("-9 07:00") for _ in given]
    return [
        Listing(UNIT.name, shift, patient(order=each))
        for shift, each in zip(given, ordered, strict=True)
    ]


def found(
    *rows: Entry,
    count: int = 1,
    orders: list[Order | None] | None = None,
    as_of: str | None = None,
    stay_start: datetime = STAY_START,
) -> list[dict[str, Any]]:
    """The matters at the end of the last of so many shifts, or at `as_of`."""
    known = listings(shifts(count), orders)
    until = at(as_of) if as_of else SHIFT.end
    in_order = sorted(rows, key=lambda each: each.at)
    return plain_matters(known, in_order, until, LIMITS, stay_start)


def only(*rows: Entry, **given: Any) -> dict[str, Any]:
    (matter,) = found(*rows, **given)
    return matter


def cell(*rows: Entry, **given: Any) -> tuple[str, str]:
    """State and level of the only matter."""
    matter = only(*rows, **given)
    return matter["state"], matter["level"]


# The two by two


def test_open() -> None:
    matter = only(row("08:00", spo2=88), row("08:40", spo2=87), row("12:00", pulse=80))
    assert matter == {
        "rule": "low-oxygen",
        "symptom": None,
        "opened_at": at("08:00"),
        "last_at": at("08:40"),
        "state": "open",
        "level": "escalate",
        "told_at": [],
        "about_unknown_at": [],
        "settled_at": None,
        "closed_at": None,
    }


def test_told() -> None:
    matter = only(row("08:00", spo2=88), told("08:10", "oxygen"))
    assert (matter["state"], matter["level"]) == ("told", "escalate")
    assert matter["told_at"] == [at("08:10")]


@pytest.mark.parametrize(
    ("met", "over_at", "count", "level"),
    [
        ("08:00", "10:00", 1, "escalate"),  # met in the shift handed over
        ("-1 20:00", "-1 22:00", 2, "follow_up"),  # met and settled in the shift before
        ("-1 20:00", "09:00", 2, "follow_up"),  # settled now
        ("-1 08:00", "-1 10:00", 3, "note"),  # two shifts ago
        ("-1 08:00", "09:00", 3, "follow_up"),  # met long ago, settled now
        ("-1 08:00", "-1 22:00", 3, "note"),  # settled in the shift before
    ],
)
def test_settled_and_not_told(met: str, over_at: str, count: int, level: str) -> None:
    rows = row(met, pulse=140), row(over_at, pulse=90)
    assert cell(*rows, count=count) == ("settled", level)
    assert only(*rows, count=count)["settled_at"] == at(over_at)


@pytest.mark.parametrize(
    ("met", "count", "level"), [("08:00", 1, "follow_up"), ("-1 20:00", 2, "note")]
)
def test_closed(met: str, count: int, level: str) -> None:
    rows = row(met, pulse=140), told("09:00", "pulse"), row("10:00", pulse=90)
    matter = only(*rows, count=count)
    assert (matter["state"], matter["level"]) == ("closed", level)
    assert (matter["settled_at"], matter["closed_at"]) == (at("10:00"), at("10:00"))


def test_a_provider_told_after_it_was_over_closes_it_then() -> None:
    matter = only(row("08:00", pulse=140), row("10:00", pulse=90), told("18:00", "pulse"))
    assert (matter["settled_at"], matter["closed_at"]) == (at("10:00"), at("18:00"))


# a Which rows belong to which shift


def test_a_shift_starts_at_its_first_minute_and_its_end_is_the_next_one() -> None:
    """Settled in the shift before: met at its last minute, or at the first minute of this one."""
    assert cell(row("06:59", pulse=140), row("08:30", pulse=90), count=2)[1] == "follow_up"
    assert cell(row("07:00", pulse=140), row("08:30", pulse=90), count=2)[1] == "escalate"


def test_a_row_in_a_gap_belongs_to_the_shift_after_it() -> None:
    day_before, _, today = shifts(3)
    known = listings([day_before, today])
    rows = [row("-1 22:00", pulse=140), row("-1 23:30", pulse=90)]
    (matter,) = plain_matters(known, rows, SHIFT.end, LIMITS, STAY_START)
    assert matter["level"] == "escalate"


def test_rows_after_the_end_belong_to_the_last_shift_up_to_as_of() -> None:
    assert cell(row("20:00", pulse=140), as_of="21:00") == ("open", "escalate")
    assert found(row("20:00", pulse=140), as_of="19:59") == []


def test_nothing_counts_after_as_of_or_more_than_a_day_before_stay_and_first_listing() -> None:
    """A sign of the shift that lists the patient first is judged, whenever the order began, and so
    is one of a day before that or before the stay, whichever is earlier.
    """
    rows = row("08:00", pulse=140), told("10:00", "pulse")
    assert cell(*rows, as_of="09:59") == ("open", "escalate")
    assert cell(*rows, as_of="10:00") == ("told", "escalate")
    assert cell(*rows, stay_start=at("08:01")) == ("told", "escalate")
    day_before, earlier = row("-1 07:00", pulse=140), row("-1 06:59", pulse=140)
    for start in ("07:00", "08:00"):
        assert cell(day_before, stay_start=at(start)) == ("open", "escalate")
        assert found(earlier, stay_start=at(start)) == []
    assert len(found(earlier, stay_start=at("06:59"))) == 1
    assert found(row("-1 06:58", pulse=140), stay_start=at("06:59")) == []


def test_a_volume_before_the_stay_is_no_usual_volume() -> None:
    """Both rows lie in the shift that lists the patient first; the order began in between."""
    rows = breath("-1 20:00", 2000), breath("08:00", 900, temp_c=38.5)
    assert len(fallen(found(*rows, count=2, stay_start=at("-1 20:00")))) == 1
    assert fallen(found(*rows, count=2, stay_start=at("-1 20:01"))) == []


# b Dizziness with signs


def test_dizziness_and_a_sign_up_to_an_hour_apart() -> None:
    matters = found(row("09:00", "dizzy"), row("10:00", pulse=140))
    assert [each["rule"] for each in matters] == ["dizziness-with-signs", "pulse"]
    assert (matters[0]["opened_at"], matters[0]["last_at"]) == (at("09:00"), at("10:00"))
    assert [e["rule"] for e in found(row("09:00", "dizzy"), row("10:01", pulse=140))] == ["pulse"]


def test_it_looks_back_over_the_start_by_an_hour() -> None:
    rows = row("06:30", pulse=140), row("07:20", "tingling")
    dizzy, pulse = sorted(found(*rows, count=2), key=lambda each: each["rule"])
    assert dizzy["rule"] == "dizziness-with-signs"
    assert (dizzy["opened_at"], dizzy["last_at"]) == (at("06:30"), at("07:20"))
    assert pulse["opened_at"] == at("06:30")
    assert len(found(row("05:59", pulse=140), row("07:00", "tingling"), count=2)) == 1


def test_what_was_first_seen_to_be_one_in_this_shift_opened_in_it() -> None:
    rows = row("06:30", "dizzy"), row("07:20", pulse=140), told("07:30", "all")
    over_now = row("09:00", "none", pulse=80)
    dizzy, pulse = sorted(found(*rows, over_now, count=2), key=lambda each: each["rule"])
    assert (dizzy["state"], dizzy["level"]) == ("closed", "follow_up")
    assert (pulse["state"], pulse["level"]) == ("closed", "follow_up")


# c Volume


USUAL = tuple(breath(clock, 2000) for clock in ("-1 19:30", "-1 20:00", "-1 21:00"))


def fallen(matters: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [each for each in matters if each["rule"] == "volume-drop-with-signs"]


def test_a_fall_beside_a_sign_cites_the_last_good_reading_and_the_signs() -> None:
    rows = *USUAL, breath("08:00", 1900), breath("09:00", 1700)
    off_form, fever = breath("10:00", 1900, flow="fast"), row("11:00", temp_c=38.2)
    matter = only(*rows, off_form, fever, count=2)
    assert matter["rule"] == "volume-drop-with-signs"
    assert (matter["opened_at"], matter["last_at"]) == (at("09:00"), at("11:00"))
    assert found(*rows, off_form, count=2) == []  # 85 % alone wants a sign
    assert found(*rows, fever, breath("12:00", 1701), count=2) == []  # over 85 % of 2,000


def test_a_deep_fall_needs_two_readings_and_no_sign() -> None:
    deep = *USUAL, breath("08:00", 1400)
    assert found(*deep, count=2) == []
    assert only(*deep, breath("09:00", 1000), count=2)["last_at"] == at("09:00")
    assert found(*deep, breath("09:00", 1401), count=2) == []


def test_the_first_of_two_deep_readings_may_lie_in_the_shift_before() -> None:
    matter = only(*USUAL, breath("06:00", 1300), breath("08:00", 1300), count=2)
    assert (matter["opened_at"], matter["last_at"]) == (at("06:00"), at("08:00"))


def test_the_usual_is_the_middle_of_seven_of_the_72_h_before_the_shift() -> None:
    fell = breath("08:00", 1000), breath("09:00", 1000)
    older = breath("-1 10:00", 2000), breath("-1 11:00", 2000)
    assert len(found(breath("-3 07:00", 2000), *older, *fell, count=7)) == 1
    assert found(breath("-3 06:59", 2000), *older, *fell, count=7) == []
    many = [breath(f"-1 {hour}:00", 1100) for hour in range(12, 15)]
    assert len(found(*USUAL, breath("-1 22:00", 2000), *many, *fell, count=3)) == 1
    assert found(*USUAL, *many, breath("-1 15:00", 1100), *fell, count=3) == []


def test_early_in_a_stay_a_fall_escalates_only_beside_a_sign() -> None:
    rows = breath("08:00", 1500), breath("09:00", 700), breath("09:10", 700)
    assert found(*rows) == []
    breathless = only(*rows, row("09:20", "breathless"))
    assert (breathless["opened_at"], breathless["last_at"]) == (at("09:10"), at("09:20"))


@pytest.mark.parametrize(("volume_ml", "state"), [(1700, "open"), (1701, "settled")])
def test_a_reading_over_85_percent_settles_a_fall(volume_ml: float, state: str) -> None:
    usual = [breath(f"-1 {clock}", 2000) for clock in ("08:00", "09:00", "10:00")]
    fell = *usual, breath("-1 20:00", 1000), breath("06:50", 1000)
    matter = only(*fell, breath("07:00", volume_ml), count=3)
    assert matter["state"] == state


# d No order


@pytest.mark.parametrize("over_at", [None, "-1 22:00", "06:59", "07:00"])
def test_a_shift_without_an_order_is_judged_whether_or_not_a_matter_is_open(
    over_at: str | None,
) -> None:
    rows = [row("-1 20:00", pulse=140), told("-1 20:10", "pulse"), row("08:00", spo2=88)]
    if over_at:
        rows.append(row(over_at, pulse=80))
    pulse, oxygen = found(*rows, count=2, orders=[order("-9 07:00"), None])
    assert (pulse["rule"], pulse["state"]) == ("pulse", "closed" if over_at else "told")
    assert (oxygen["rule"], oxygen["state"]) == ("low-oxygen", "open")
    nothing_before = found(rows[2], count=2, orders=[order("-9 07:00"), None])
    assert [each["rule"] for each in nothing_before] == ["low-oxygen"]


def test_before_the_first_order_its_limits_hold() -> None:
    ordered = [None, order("-9 07:00", spo2_min=88), None]
    rows = row("-1 08:00", spo2=88), row("-1 10:00", spo2=87)
    assert [each["opened_at"] for each in found(*rows, count=3, orders=ordered)] == [at("-1 10:00")]


def test_the_last_earlier_order_goes_on_being_the_limit() -> None:
    ordered = [order("-9 07:00", spo2_min=88), None]
    rows = row("-1 20:00", pulse=140), row("08:00", spo2=88)
    assert [each["rule"] for each in found(*rows, count=2, orders=ordered)] == ["pulse"]
    assert len(found(*rows, row("09:00", spo2=87), count=2, orders=ordered)) == 2


def test_never_an_order_is_never_judged() -> None:
    assert found(row("08:00", pulse=140), orders=[None]) == []


# e One minute


def test_within_one_minute_rows_then_measurements_then_words() -> None:
    """A row of the same minute reopens what is then told; words of that minute are after it."""
    rows = row("08:00", pulse=140), told("09:00", "pulse"), row("09:00", pulse=140)
    assert only(*rows)["told_at"] == [at("09:00")]
    assert only(*rows)["last_at"] == at("09:00")
    at_once = only(row("08:00", pulse=140), told("08:00", "pulse"), over("08:00", "pulse"))
    assert at_once["closed_at"] == at("08:00")


def test_seconds_are_cut_off() -> None:
    late = replace(row("08:00", pulse=140), at=at("08:00") + timedelta(seconds=50))
    matter = only(late, told("08:00", "pulse"), row("09:00", pulse=80))
    assert (matter["state"], matter["opened_at"]) == ("closed", at("08:00"))


# f Told


@pytest.mark.parametrize(
    ("about", "met"),
    [
        ("oxygen", row("08:00", spo2=88)),
        ("breathing", row("08:00", resp_rate=25)),
        ("pulse", row("08:00", pulse=40)),
        ("temperature", row("08:00", temp_c=35.0)),
        ("faint", row("08:00", "faint")),
        ("chest_pain", row("08:00", "chest_pain")),
        ("drowsy", row("08:00", "drowsy")),
        ("confused", row("08:00", "confused")),
    ],
)
def test_a_word_answers_its_own_matter(about: str, met: Entry) -> None:
    assert only(met, told("08:10", about))["state"] == "told"
    assert only(met, told("08:10", "other", about))["state"] == "told"
    assert only(met, told("08:10", "all"))["state"] == "told"
    assert only(met, told("08:10", "volume", "other"))["state"] == "open"


def test_dizzy_and_volume_answer_theirs() -> None:
    rows = row("08:00", "dizzy", pulse=140), told("08:10", "dizzy")
    states = {each["rule"]: each["state"] for each in found(*rows)}
    assert states == {"dizziness-with-signs": "told", "pulse": "open"}
    fell = *USUAL, breath("08:00", 1000), breath("09:00", 1000)
    assert only(*fell, told("09:10", "volume"), count=2)["state"] == "told"


@pytest.mark.parametrize("note", [None, "", "  "])
def test_told_without_a_note_answers_nothing(note: str | None) -> None:
    matter = only(row("08:00", pulse=140), told("08:10", "pulse", note=note))
    assert matter["told_at"] == []
    blank = only(row("08:00", pulse=140), told("08:10", note=note))
    assert blank["about_unknown_at"] == []


def test_told_before_the_first_row_answers_nothing() -> None:
    assert cell(told("07:59", "pulse"), row("08:00", pulse=140)) == ("open", "escalate")
    assert cell(told("08:00", "pulse"), row("08:00", pulse=140)) == ("told", "escalate")


@pytest.mark.parametrize(("again", "state"), [("12:10", "told"), ("12:11", "open")])
def test_told_answers_later_rows_for_four_hours(again: str, state: str) -> None:
    rows = row("08:00", "confused"), told("08:10", "confused"), row(again, "confused")
    assert only(*rows)["state"] == state


@pytest.mark.parametrize(
    ("first", "again", "state"),
    [
        ({"spo2": 88}, {"spo2": 87}, "told"),
        ({"spo2": 88}, {"spo2": 86}, "open"),
        ({"pulse": 135}, {"pulse": 139}, "told"),
        ({"pulse": 135}, {"pulse": 140}, "open"),
        ({"pulse": 135}, {"pulse": 40}, "open"),
        ({"resp_rate": 25}, {"resp_rate": 29}, "told"),
        ({"resp_rate": 25}, {"resp_rate": 30}, "open"),
        ({"resp_rate": 8}, {"resp_rate": 3}, "open"),
        ({"temp_c": 34.9}, {"temp_c": 34.5}, "told"),
        ({"temp_c": 34.9}, {"temp_c": 34.4}, "open"),
    ],
)
def test_a_worse_value_wants_telling_again(
    first: dict[str, Any], again: dict[str, Any], state: str
) -> None:
    rows = row("08:00", **first), told("08:10", "all"), row("09:00", **again)
    assert only(*rows)["state"] == state


def test_worse_is_compared_with_the_worst_that_was_told() -> None:
    rows = row("08:00", spo2=90), row("08:05", spo2=86), told("08:10", "oxygen")
    assert only(*rows, row("09:00", spo2=85))["state"] == "told"
    assert only(*rows, row("09:00", spo2=84))["state"] == "open"


def test_a_told_that_something_worse_followed_answers_no_later_row() -> None:
    rows = row("08:00", spo2=90), told("08:10", "oxygen"), row("09:00", spo2=86)
    assert only(*rows, row("10:00", spo2=90))["state"] == "open"
    again = only(*rows, told("09:05", "oxygen"), row("10:00", spo2=90))
    assert again["told_at"] == [at("09:05")]


def test_a_new_symptom_or_sign_beside_dizziness_wants_telling_again() -> None:
    def state(*rows: Entry) -> str:
        first = row("08:00", "dizzy", pulse=140), told("08:10", "dizzy")
        by_rule = {each["rule"]: each["state"] for each in found(*first, *rows)}
        return str(by_rule["dizziness-with-signs"])

    assert state(row("08:30", "dizzy", pulse=145)) == "told"
    assert state(row("08:30", "tingling")) == "open"
    assert state(row("08:30", spo2=88)) == "open"
    assert state(row("08:30", "chest_pain")) == "open"
    assert state(row("08:30", "cough")) == "told"


def test_a_new_sign_beside_a_fall_wants_telling_again() -> None:
    fell = *USUAL, breath("08:00", 1000), row("08:10", temp_c=38.5)
    said = told("08:20", "volume")

    def state(*rows: Entry) -> str:
        by_rule = {each["rule"]: each["state"] for each in found(*fell, said, *rows, count=2)}
        return str(by_rule["volume-drop-with-signs"])

    assert state(breath("09:00", 1000)) == "told"
    assert state(row("09:00", temp_c=39.5)) == "told"
    assert state(row("09:00", "wheeze")) == "open"


def test_it_settled_in_between() -> None:
    """Told and over is closed: a row within the four hours opens a new matter, not yet told."""
    rows = row("08:00", pulse=140), told("08:10", "pulse"), row("09:00", pulse=80)
    first, second = found(*rows, row("10:00", pulse=140))
    assert (first["state"], second["state"]) == ("closed", "open")


# g About unknown


@pytest.mark.parametrize(("said", "counts"), [("09:00", True), ("09:01", False), ("07:59", False)])
def test_a_blank_about_within_an_hour_after_the_row(said: str, *, counts: bool) -> None:
    matter = only(row("08:00", pulse=140), told(said))
    assert matter["state"] == "open"
    assert matter["about_unknown_at"] == ([at(said)] if counts else [])
    settled = only(row("08:00", pulse=140), told(said), row("11:00", pulse=80))
    assert settled["state"] == ("closed" if counts else "settled")
    assert settled["closed_at"] == (at("11:00") if counts else None)
    assert settled["told_at"] == ([at(said)] if counts else [])
    assert settled["about_unknown_at"] == []


def test_a_blank_about_after_it_settled_closes_it_then() -> None:
    matter = only(row("08:00", pulse=140), over("08:20", "pulse"), told("08:30"))
    assert (matter["settled_at"], matter["closed_at"]) == (at("08:20"), at("08:30"))


def test_a_blank_about_before_the_last_row_answers_nothing() -> None:
    rows = row("08:00", pulse=140), told("08:10"), row("08:20", pulse=140), row("11:00", pulse=80)
    assert only(*rows)["state"] == "settled"


# h Settled by the record


@pytest.mark.parametrize(("looked", "state"), [("08:59", "open"), ("09:00", "settled")])
def test_an_hour_has_to_pass(looked: str, state: str) -> None:
    assert only(row("08:00", pulse=140), row(looked, pulse=80))["state"] == state
    assert only(row("08:00", "faint"), row(looked, "none"))["state"] == state


def test_what_the_patient_says_settles_nothing_and_opens_something() -> None:
    assert only(row("08:00", pulse=140), row("10:00", pulse=80, seen_by=SELF))["state"] == "open"
    assert only(row("08:00", "faint"), row("10:00", "none", seen_by=SELF))["state"] == "open"
    usual = [breath(f"-1 {clock}", 2000) for clock in ("08:00", "09:00", "10:00")]
    fell = *usual, breath("-1 20:00", 1000), breath("-1 21:00", 1000)
    assert only(*fell, breath("08:00", 1900, seen_by=SELF), count=3)["state"] == "open"
    assert only(row("08:00", pulse=140, seen_by=SELF))["state"] == "open"


def test_only_none_settles_a_symptom_and_each_symptom_is_a_matter() -> None:
    rows = row("08:00", "faint chest_pain"), row("10:00", pulse=80), row("11:00", "cough")
    assert [each["state"] for each in found(*rows)] == ["open", "open"]
    assert [each["symptom"] for each in found(*rows)] == ["faint", "chest_pain"]
    settled = found(*rows, row("12:00", "none"))
    assert [each["settled_at"] for each in settled] == [at("12:00")] * 2


def test_the_limits_are_those_of_the_shift_of_the_later_value() -> None:
    ordered = [order("-9 07:00"), order("-9 07:00", spo2_min=88)]
    rows = row("-1 20:00", spo2=87), row("08:00", spo2=88)
    assert only(*rows, count=2, orders=ordered)["state"] == "settled"
    assert only(*rows, count=2)["last_at"] == at("08:00")  # 88 is low where none is ordered


@pytest.mark.parametrize(
    ("low", "later", "state"),
    [
        ({"on_oxygen": False}, {"on_oxygen": False}, "settled"),
        ({"on_oxygen": False}, {"on_oxygen": True}, "open"),
        ({"on_oxygen": False}, {}, "open"),
        ({"on_oxygen": True}, {"on_oxygen": False}, "settled"),
        ({"on_oxygen": True}, {"on_oxygen": True}, "open"),
        ({"on_oxygen": True}, {}, "open"),
        ({"oxygen": "2 L nasal"}, {"oxygen": "2 L/min"}, "settled"),
        ({"oxygen": "2 L nasal"}, {"oxygen": "1.5 L"}, "settled"),
        ({"oxygen": "2 L nasal"}, {"oxygen": "3 L nasal"}, "open"),
        ({"oxygen": "2 L nasal"}, {"oxygen": "24 %"}, "open"),
        ({"oxygen": "28 %"}, {"oxygen": "24%"}, "settled"),
        ({"oxygen": "mask"}, {"oxygen": "mask"}, "open"),
        ({"oxygen": "2 L nasal"}, {"on_oxygen": True}, "open"),
        ({}, {}, "settled"),
        ({}, {"on_oxygen": False}, "settled"),
        ({}, {"on_oxygen": True}, "open"),
    ],
)
def test_a_good_spo2_on_more_oxygen_settles_nothing(
    low: dict[str, Any], later: dict[str, Any], state: str
) -> None:
    assert only(row("08:00", spo2=88, **low), row("10:00", spo2=95, **later))["state"] == state


def test_all_low_rows_say_what_the_oxygen_is_compared_with() -> None:
    two, one = row("08:00", spo2=88, oxygen="2 L"), row("08:30", spo2=88, oxygen="1 L")
    assert only(two, one, row("10:00", spo2=95, oxygen="2 L"))["state"] == "open"
    assert only(two, one, row("10:00", spo2=95, oxygen="1 L"))["state"] == "settled"
    unwritten = row("08:40", spo2=88, on_oxygen=True)
    assert only(two, one, unwritten, row("10:00", spo2=95, oxygen="1 L"))["state"] == "open"
    on_air = row("08:40", spo2=88, on_oxygen=False)
    assert only(two, one, on_air, row("10:00", spo2=95, oxygen="1 L"))["state"] == "open"


# i Dizziness with signs settles when all of it has


def test_dizziness_settles_with_none_and_every_sign() -> None:
    first = row("08:00", "dizzy faint", pulse=140, spo2=88, on_oxygen=False)

    def settled_at(*rows: Entry) -> datetime | None:
        (dizzy,) = (e for e in found(first, *rows) if e["rule"] == "dizziness-with-signs")
        when: datetime | None = dizzy["settled_at"]
        return when

    none, pulse = row("09:30", "none"), row("10:00", pulse=80)
    on_air, on_oxygen = (row("11:00", spo2=95, on_oxygen=on) for on in (False, True))
    assert settled_at(none, pulse, on_air) == at("11:00")
    assert settled_at(none, pulse, on_oxygen) is None
    assert settled_at(none, on_air) is None
    assert settled_at(pulse, on_air) is None
    assert settled_at(pulse, on_air, row("12:00", "none")) == at("12:00")
    assert settled_at(row("08:59", "none"), pulse, on_air) is None


def test_a_later_row_asks_for_everything_again() -> None:
    first = row("08:00", "dizzy", pulse=140), row("09:30", pulse=80)
    again = row("09:40", pulse=140), row("09:45", "dizzy"), row("10:50", "none")
    dizzy = next(each for each in found(*first, *again) if each["rule"] == "dizziness-with-signs")
    assert dizzy["state"] == "open"


# j Settled by a person


def test_a_person_settles_what_is_named_and_with_a_note() -> None:
    rows = row("08:00", pulse=140), told("08:10", "pulse")
    assert only(*rows, over("08:20", "pulse"))["closed_at"] == at("08:20")
    assert only(*rows, over("08:20", "all"))["state"] == "closed"
    for nothing in (over("08:20"), over("08:20", "oxygen"), over("08:20", "pulse", note=None)):
        assert only(*rows, nothing)["state"] == "told"
    assert only(over("07:59", "pulse"), *rows)["state"] == "told"


def test_it_is_reopened_by_a_later_row() -> None:
    rows = row("08:00", pulse=140), over("08:20", "pulse"), row("09:00", pulse=140)
    matter = only(*rows)
    assert (matter["state"], matter["opened_at"]) == ("open", at("08:00"))
    assert matter["settled_at"] is None


# k Told, not settled, and only followed up


def test_within_limits_twice_on_oxygen() -> None:
    low = row("08:00", spo2=88, on_oxygen=False), told("08:10", "oxygen")
    first = row("09:00", spo2=95, on_oxygen=True)
    hour, sooner, by_self = (
        row("10:00", spo2=96, on_oxygen=True),
        row("09:59", spo2=96, on_oxygen=True),
        row("10:00", spo2=96, on_oxygen=True, seen_by=SELF),
    )
    assert cell(*low, first, hour) == ("told", "follow_up")
    assert cell(*low, first, sooner) == ("told", "escalate")
    assert cell(*low, first, by_self) == ("told", "escalate")
    assert cell(*low, first, row("10:00", spo2=96)) == ("told", "escalate")
    assert cell(low[0], first, hour) == ("open", "escalate")
    assert cell(*low, first, hour, row("11:00", spo2=90)) == ("told", "escalate")


def test_a_symptom_a_day_old_with_three_later_entries() -> None:
    faint = row("-1 19:00", "faint"), told("-1 19:10", "faint")
    three = row("-1 22:00", pulse=80), entry("02:00"), entry("08:00", what="declined")
    assert cell(*faint, *three, count=3) == ("told", "follow_up")
    assert cell(*faint, *three, count=3, as_of="18:59") == ("told", "escalate")
    assert cell(*faint, *three[1:], count=3) == ("told", "escalate")
    assert cell(faint[0], *three, count=3) == ("open", "escalate")
    for no_sight in (entry("03:00", what="note", note="slept"), row("03:00", seen_by=SELF)):
        assert cell(*faint, *three[1:], no_sight, count=3) == ("told", "escalate")
    with_pain = entry("03:00", what="note", pain=2)
    assert cell(*faint, *three[1:], with_pain, count=3) == ("told", "follow_up")


def test_dizziness_a_day_old_of_which_only_none_is_missing() -> None:
    rows = row("-1 19:00", "dizzy", pulse=140), told("-1 19:10", "dizzy")
    seen = entry("02:00"), entry("08:00"), entry("09:00")

    def level(*more: Entry) -> str:
        by_rule = {each["rule"]: each["level"] for each in found(*rows, *more, count=3)}
        return str(by_rule["dizziness-with-signs"])

    assert level(*seen) == "escalate"
    assert level(*seen, row("-1 21:00", pulse=80)) == "follow_up"
    assert level(*seen, row("-1 21:00", "none")) == "escalate"


def test_a_fall_three_days_old() -> None:
    usual = [breath(f"-3 {clock}", 2000) for clock in ("08:00", "09:00", "10:00")]
    fell = *usual, breath("-3 19:00", 1000), breath("-3 20:00", 1000)
    rows = *fell, told("-3 20:10", "volume")
    assert cell(*rows, count=8, as_of="20:00") == ("told", "follow_up")
    assert cell(*rows, count=8, as_of="19:59") == ("told", "escalate")
    assert cell(*fell, count=8, as_of="20:00") == ("open", "escalate")


# l After it was closed


def test_a_row_after_it_was_closed_opens_another() -> None:
    rows = row("08:00", pulse=140), told("08:10", "pulse"), row("10:00", pulse=80)
    first, second = found(*rows, row("12:00", pulse=140), told("12:05", "pulse"))
    assert (first["state"], first["last_at"], first["told_at"]) == (
        "closed",
        at("08:00"),
        [at("08:10")],
    )
    assert (second["state"], second["opened_at"]) == ("told", at("12:00"))


# The stage beside it


def plain(handover: Handover) -> list[dict[str, Any]]:
    (listed,) = handover.patients
    return plain_matters(
        handover.listings_of(listed),
        handover.entries_of(listed),
        handover.as_of,
        LIMITS,
        handover.stay_start[listed.id],
    )


def compared(matters: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """What is the same in both: without what only one says, in one order."""
    sets = [
        {**each, **{name: sorted(set(each[name])) for name in ("told_at", "about_unknown_at")}}
        for each in matters
    ]
    by = ("opened_at", "rule", "symptom", "last_at")
    return sorted(sets, key=lambda each: [str(each[name]) for name in by])


def test_fast_agrees_on_random_stays_that_come_to_every_cell() -> None:
    """They have each matter in each state, at each of its levels."""
    seen: set[tuple[str, str, str]] = set()
    for seed in RANDOM_STAYS:
        handover = random_handover(seed)
        fast = [
            {
                "rule": matter.rule,
                "symptom": matter.symptom,
                "opened_at": matter.opened_at,
                "last_at": matter.last_at,
                "state": str(matter.state),
                "level": str(matter.level),
                "told_at": [said.at for said in matter.told],
                "about_unknown_at": [said.at for said in matter.about_unknown],
                "settled_at": matter.settled_at,
                "closed_at": matter.closed_at,
            }
            for matter in follow(handover, handover.patients[0], LIMITS)
        ]
        slow = plain(handover)
        assert compared(fast) == compared(slow), f"stay {seed}"
        seen |= {(matter["rule"], matter["state"], matter["level"]) for matter in slow}
    rules = {rule for rule, _, _ in seen}
    assert len(rules) == 13
    always = [("open", "escalate"), ("told", "escalate"), ("closed", "note")]
    always += [("settled", "follow_up"), ("settled", "note")]
    assert {(rule, *cell) for rule in rules for cell in always} <= seen
    eased = {rule for rule, state, level in seen if (state, level) == ("told", "follow_up")}
    assert eased == rules - {
        *("breathing-rate", "pulse", "low-temperature", "high-oxygen", "fever", "pain-again")
    }
