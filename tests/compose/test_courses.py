"""The courses of all patients in words and series: the verdict, who comes first, the scales."""

from datetime import timedelta
from typing import Any

import pytest
from msgspec.structs import replace

from handoff.compose.facts import Facts, facts_of
from handoff.model.figure import Style
from handoff.model.lists import Course
from handoff.model.measures import Measures
from handoff.model.ward import Entry, Handover
from tests.support.builders import entry, handover, order, patient
from tests.support.cases import CASES
from tests.support.sheets import courses_page, patient_page, unit_page

STAY = order("-6 07:00", goal_ml=1500)


def course(given: Handover) -> Course:
    return courses_page(given).courses[0]


@pytest.mark.parametrize(
    ("case", "verdict"),
    [
        ("levelled off", "levelled off"),
        ("steady", "steady"),
        ("rising, and fell", "fell this shift"),
        ("two blocks only", "too few readings"),
        ("volume dropped, two readings", "fell this shift"),
        ("volume dropped deep, no sign", "fell this shift"),
        ("never started, teaching not recorded", "not started"),
    ],
)
def test_the_verdict_is_in_three_words_at_most_and_a_fall_comes_first(
    case: str, verdict: str
) -> None:
    assert course(CASES[case]).verdict == verdict


@pytest.mark.parametrize(
    ("case", "heavy"),
    [
        ("rising, and fell", True),
        ("never started, teaching not recorded", True),
        ("two blocks only", False),
        ("steady", False),
        ("rising", False),
    ],
)
def test_only_a_verdict_to_act_on_is_heavy(case: str, *, heavy: bool) -> None:
    assert course(CASES[case]).is_heavy is heavy


def test_an_urgency_without_an_open_matter_has_its_reason() -> None:
    """Chest pain that was told and is settled; SpO2 over the ordered limit on oxygen."""
    given = patient(order=order(spo2_min=88, spo2_max=92))
    high = course(handover(entry("18:00", spo2=94, on_oxygen=True), patients=(given,)))
    assert (high.priority, high.open) == ("follow_up", "")
    assert high.reason.startswith("High oxygen")
    told = entry("09:10", what="told", note="Dr Quill", about=("chest_pain",))
    settled = entry("12:00", what="settled", note="Dr Quill: over", about=("chest_pain",))
    pain = course(handover(entry("09:00", "chest_pain"), told, settled))
    assert pain.open == ""
    assert pain.priority != "continue"
    assert "hest pain" in pain.reason
    low = course(handover(entry("09:00", spo2=85, on_oxygen=False)))
    assert (low.open[:5], low.reason) == ("OPEN:", "")
    steady = course(CASES["steady"])
    assert (steady.priority, steady.reason) == ("continue", "")


def test_one_low_reading_is_no_fall_and_no_trend_stands_beside_it() -> None:
    rows = tuple(entry(f"-1 {hour}:00", volume_ml=1500) for hour in (19, 20, 21))
    low = handover(*rows, entry("09:00", volume_ml=1150), patients=(patient(order=STAY),))
    assert course(low).verdict == "last one low"
    assert not course(low).chart.fell


def test_a_fall_of_an_earlier_shift_that_is_open_is_said_to_be_open() -> None:
    before = tuple(entry(f"-2 {hour}:00", volume_ml=1500) for hour in (19, 20, 21))
    deep = tuple(entry(f"-1 {hour}:00", volume_ml=900) for hour in (20, 21))
    given = handover(*before, *deep, patients=(patient(order=STAY),))
    assert course(given).verdict == "fell, still open"


def test_an_exercise_without_a_volume_is_no_verdict_on_the_volume() -> None:
    given = course(handover(entry("09:00")))
    assert given.verdict == "no volume"
    assert given.chart.empty_words == "No volume is recorded."
    assert given.chart_words == "No volume in 7 days."


def test_who_comes_first_is_first_on_the_summary_too() -> None:
    ward = (patient(id="1", bed="1"), patient(id="2", bed="2"), patient(id="3", bed="3"))
    rows = (
        entry("09:00", patient_id="2", pulse=150),
        entry("09:10", what="told", patient_id="2", note="Dr Quill", about=("pulse",)),
        entry("09:00", patient_id="3", pulse=150),
    )
    given = handover(*rows, patients=ward)
    page = courses_page(given)
    assert [each.bed for each in page.courses] == ["3", "2", "1"]
    assert [each.bed for each in page.courses] == [each.bed for each in unit_page(given).rows]
    assert page.courses[0].open == "OPEN: pulse, not told. NO EXERCISE: ask first."


def reading(hours_ago: float, volume_ml: float, **fields: object) -> Entry:
    made = entry("18:00", volume_ml=volume_ml, **fields)
    return replace(made, at=made.at - timedelta(hours=hours_ago))


def test_all_charts_show_the_same_seven_days_each_from_zero_to_its_own_highest() -> None:
    """A fall by a third is a third of the height, whoever's it is."""
    large = handover(reading(1, 3000), patients=(patient(order=order("-6 07:00")),))
    small = handover(reading(150, 450), patients=(patient(order=order("-6 07:00")),))
    charts = [course(each).chart for each in (large, small)]
    assert {(each.x_low_h, each.x_high_h) for each in charts} == {(-168.0, 0.0)}
    assert charts[0].ticks == charts[1].ticks
    assert sum(each.label is not None for each in charts[0].ticks) == 4
    assert [round(each.top_ml) for each in charts] == [3240, 486]


def test_goal_usual_and_last_are_named_and_nothing_else_is_drawn() -> None:
    rows = [reading(hours, 1200) for hours in (30, 26, 20)] + [reading(2, 1100, spo2=95)]
    facts = patient(order=order("-6 07:00", goal_ml=1500), baseline_ml=1900, device_scale_ml=1600)
    given = course(handover(*rows, patients=(facts,)))
    chart = given.chart
    assert [(each.label, each.style) for each in chart.levels] == [("goal 1,500", Style.GOAL)]
    assert chart.usual is not None
    assert (chart.usual.label, chart.last_label) == ("usual 1,200", "last 1,100")
    assert (chart.trend, chart.nights, chart.dizzy) == (None, (), ())
    assert given.spo2 == "Lowest SpO2 this shift 95 % at 16:00, air or oxygen not recorded"
    assert given.chart_words == (
        "4 readings in 7 days, from 1,100 mL to 1,200 mL; in mL: usual 1,200, goal 1,500, "
        "last 1,100."
    )


def test_without_a_reading_in_the_shift_the_chart_says_so() -> None:
    given = course(handover(reading(20, 1200), patients=(patient(order=STAY),)))
    assert given.chart.last_label == "none this shift"


def test_a_volume_at_the_scale_may_be_higher_and_a_goal_is_what_it_is() -> None:
    facts = patient(order=order("-6 07:00", goal_ml=2500), device_scale_ml=2500)
    chart = course(handover(reading(1, 2500), patients=(facts,))).chart
    assert (chart.last_label, chart.levels[0].label) == ("last at least 2,500", "goal 2,500")


def test_precautions_and_a_name_alike_stand_under_the_name() -> None:
    given = handover(patients=(patient(precautions="flat"),), name_alerts={"10442": ("5",)})
    assert course(given).alerts == ("PRECAUTIONS: flat", "NAME ALERT: bed 5")


def test_without_an_order_on_the_unit_the_page_says_so() -> None:
    page = courses_page(handover(patients=(patient(order=None),)))
    assert page.courses == ()
    assert page.empty == "Nobody has an order."


def test_with_initials_there_is_no_name_id_or_birth_date() -> None:
    given = courses_page(handover(), initials=True).courses[0]
    assert (given.name, given.id) == ("L. O.", "id …0442")


def test_what_the_words_speak_of_is_gathered_once_for_all_pages(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[Measures] = []

    def gathered(given: Handover, measures: Measures, *others: Any) -> Facts:
        asked.append(measures)
        return facts_of(given, measures, *others)

    monkeypatch.setattr("handoff.compose.results.facts_of", gathered)
    given = handover(entry("10:30"))
    assert patient_page(given).identity.bed == courses_page(given).courses[0].bed
    assert unit_page(given).rows
    assert len(asked) == 1
