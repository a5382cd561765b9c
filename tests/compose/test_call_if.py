"""'Call if': this patient's own limits in force, in numbers; each is held to the rule that fires.

The words are read back: what they say calls has to escalate (a fall of the volume: to be followed
up), and what is one step less must not. So no page asks for a call that the rules would not make,
and none keeps one back.
"""

import re
from collections.abc import Iterator
from datetime import date
from statistics import median
from typing import Any

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from handoff.compose.blank import compose_patient_blanks, compose_unit_blank
from handoff.limits.reading import Limits
from handoff.model.call_if import CallVolume
from handoff.model.ward import Handover, Patient, Shift, Symptom
from handoff.run.blank import blank_after
from tests.support.builders import (
    SHIFT,
    ZONE,
    at,
    default_limits,
    entry,
    handover,
    judged,
    order,
    patient,
    verdict,
    with_limit,
)
from tests.support.logs import hand_over, log_of
from tests.support.sheets import patient_page, results, words

LOG = """\
unit: {name: Harbour 3 East, time_zone: America/Halifax}
shift: {start: 2026-03-07 19:00, end: 2026-03-08 07:00}
patients:
- id: "10442"
  name: Larkspur, Odile
  born: 1958-04-02
  bed: 12A
  order: {start: 2026-03-06 10:00, spo2_min: 92, pulse_max: 120}
entries:
- {patient: "10442", at: 2026-03-07 20:00, breaths: 10, volume_ml: 1150}
- {patient: "10442", at: 2026-03-07 21:00, breaths: 10, volume_ml: 1300}
- {patient: "10442", at: 2026-03-07 22:00, breaths: 10, volume_ml: 1200}
"""
SAID = (
    "SpO2 under 92 %, breathing 8 or less or 25 or more, pulse 40 or less or over 120, 35 °C or "
    "less or 39.1 °C or more, faint, chest pain, drowsy, confused; 2 good readings of 960 mL or "
    "less (usual now 1,200 mL)."
)
NEXT_SHIFT = Shift(at("19:00"), at("+1 07:00"))
FIELDS = {"SpO2": "spo2", "breathing": "resp_rate", "pulse": "pulse", "": "temp_c"}
RULES = {
    "spo2": ["low-oxygen", "high-oxygen"],
    "resp_rate": ["breathing-rate"],
    "pulse": ["pulse"],
    "temp_c": ["low-temperature", "fever"],
}
STEP = 0.1  # the least difference that any sign is charted with
WAY = re.compile(r"(under |over )?([0-9.]+)(?: %| °C)?(?: or (less|more))?( on oxygen)?")


def call_if(given: Handover, limits: Limits | None = None) -> str:
    return patient_page(given, limits).call_if.value


def test_when_to_call_is_printed_in_this_patients_own_numbers() -> None:
    page = patient_page(hand_over(log_of(LOG)))
    assert (page.call_if.label, page.call_if.value) == ("Call if", SAID)


def test_it_stands_on_the_page_to_write_on_and_in_the_row_of_the_unit_too() -> None:
    given = hand_over(log_of(LOG))
    blank = blank_after(results(given), more=1)
    of_patient, unknown = compose_patient_blanks(blank, words(ZONE))
    assert of_patient.call_if is not None
    assert of_patient.call_if.value == SAID
    assert unknown.call_if is None  # whose limits are not known yet
    (row,) = compose_unit_blank(blank, words(ZONE)).rows
    assert row.call_if == of_patient.call_if


def test_a_units_stricter_limit_is_the_one_in_force() -> None:
    limits = with_limit("breathing-rate", "resp_rate_at_or_over", "22")
    assert "breathing 8 or less or 22 or more" in call_if(handover(), limits)


def test_a_childs_high_limits_are_called_those_of_adults() -> None:
    child = patient(born=date(2017, 5, 5))
    said = call_if(handover(patients=(child,)))
    assert "breathing 8 or less or 25 or more (adult limit)" in said
    assert "pulse 40 or less or 131 or more (adult limit)" in said
    own = patient(born=date(2017, 5, 5), order=order(resp_rate_max=40))
    assert "breathing 8 or less or over 40, pulse" in call_if(handover(patients=(own,)))


Asked = dict[str, Any]  # a vital sign by its field, and whether it was seen on oxygen


def ways(said: str) -> Iterator[tuple[Asked, Asked]]:
    """Each number of the vital signs: a value that calls, and the next that does not."""
    for part in re.split(", |; ", said.removesuffix(".")):
        sign = next(each for each in FIELDS if part.startswith(each))
        for beyond, number, side, on_oxygen in WAY.findall(part.removeprefix(sign)):
            if not (beyond or side):
                continue
            limit, low = float(number), beyond == "under " or side == "less"
            step = -STEP if low else STEP
            calls, inside = (limit, limit - step) if side else (limit + step, limit)
            of_both = {"on_oxygen": True} if on_oxygen else {}
            yield (
                {FIELDS[sign]: round(calls, 2), **of_both},
                {FIELDS[sign]: round(inside, 2), **of_both},
            )


def calls_at(asked: Asked, of: Patient, limits: Limits) -> bool:
    """Whether it escalates; a high SpO2 on oxygen, whether somebody is to be asked of it."""
    verdicts = judged(handover(entry("09:00", **asked), patients=(of,)), limits)
    (field,) = asked.keys() - {"on_oxygen"}
    of_rule = [each for each in verdicts.cautions if each.rule in RULES[field]]
    if "on_oxygen" in asked:
        return any(each.rule == "high-oxygen" for each in of_rule)
    return any(each.level == "escalate" for each in of_rule)


def between(low: float, high: float) -> st.SearchStrategy[float | None]:
    return st.none() | st.integers(int(low * 2), int(high * 2)).map(lambda number: number / 2)


ORDERS = st.fixed_dictionaries(
    {
        "spo2_min": between(80, 96),
        "spo2_max": between(88, 100),
        "resp_rate_min": between(4, 12),
        "resp_rate_max": between(20, 40),
        "pulse_min": between(30, 60),
        "pulse_max": between(90, 160),
        "temp_max": between(38, 40),
    }
)
UNITS = st.sampled_from(
    (
        default_limits(),
        with_limit("low-oxygen", "spo2_at_or_under", "93"),
        with_limit("pulse", "pulse_at_or_over", "120"),
        with_limit("low-temperature", "temp_c_at_or_under", "35.5"),
    )
)


@settings(max_examples=20)
@given(own=ORDERS, limits=UNITS, born=st.sampled_from((date(1958, 4, 2), date(2017, 5, 5))))
def test_each_number_is_the_one_at_which_its_rule_escalates(
    own: dict[str, Any], limits: Limits, born: date
) -> None:
    of = patient(born=born, order=order(**own))
    numbers = list(ways(call_if(handover(patients=(of,)), limits)))
    assert len(numbers) == 7 + (own["spo2_max"] is not None or 0 < (own["spo2_min"] or 0) <= 90)
    for calls, inside in numbers:
        assert calls_at(calls, of, limits), calls
        assert not calls_at(inside, of, limits), inside


def test_the_upper_limit_on_oxygen_is_printed_where_one_is_in_force() -> None:
    for low, high, said in (
        (88, 92, "SpO2 under 88 % or over 92 % on oxygen,"),
        (88, None, "SpO2 under 88 % or over 92 % on oxygen,"),
        (None, 96, "SpO2 91 % or less or over 96 % on oxygen,"),
        (92, None, "SpO2 under 92 %,"),
    ):
        of = patient(order=order(spo2_min=low, spo2_max=high))
        assert call_if(handover(patients=(of,))).startswith(said)


def test_a_symptom_that_is_usual_does_not_call() -> None:
    """Nor is it judged where it stands alone; chest pain is never usual."""
    of = patient(order=order(usual_symptoms=(Symptom.CONFUSED, Symptom.CHEST_PAIN)))
    assert "faint, chest pain, drowsy." in call_if(handover(patients=(of,)))
    assert judged(handover(entry("09:00", "confused"), patients=(of,))).escalations == ()


def test_in_comfort_care_pain_and_breathlessness_alone_call() -> None:
    of = patient(order=order(comfort_care=True))
    given = handover(entry("09:00", "faint", spo2=80, volume_ml=1200), patients=(of,))
    assert call_if(given) == "pain or breathlessness is not eased; comfort care is ordered."
    assert judged(given).escalations == ()


@pytest.mark.parametrize("symptom", ["faint", "chest_pain", "drowsy", "confused"])
def test_each_symptom_that_calls_escalates_by_itself(symptom: str) -> None:
    given = handover(entry("09:00", symptom))
    assert f", {symptom.replace('_', ' ')}" in call_if(given)
    assert judged(given).priority == "escalate"


@pytest.mark.parametrize("symptom", ["dizzy", "breathless", "wheeze", "cough", "fatigue"])
def test_no_other_symptom_calls_by_itself(symptom: str) -> None:
    given = handover(entry("09:00", symptom))
    assert symptom not in call_if(given)
    assert judged(given).priority != "escalate"


def volume_that_calls(given: Handover, limits: Limits | None = None) -> CallVolume | None:
    return judged(given, limits).call_if.volume


@settings(max_examples=15)
@example(before=[350, 350, 300], percent=86, under_ml=50)  # the last one is as low already
@given(
    before=st.lists(st.integers(300, 4000), min_size=3, max_size=8),
    percent=st.integers(50, 95),
    under_ml=st.integers(50, 250),
)
def test_the_volume_is_the_highest_at_which_the_fall_is_met_in_the_next_shift(
    before: list[int], percent: int, under_ml: int
) -> None:
    limits = with_limit("volume-drop", "two_percent_at_or_under", str(percent))
    limits = with_limit("volume-drop", "two_ml_under_at_or_over", str(under_ml), limits)
    earlier = [entry(f"{10 + number}:00", volume_ml=ml) for number, ml in enumerate(before)]
    assume(not judged(handover(*earlier), limits).fell)
    call = volume_that_calls(handover(*earlier), limits)
    assert call is not None
    assert call.readings == (1 if before[-1] <= call.volume_ml else 2)
    assert call.usual_ml == median(before[-7:])

    def is_met(volume_ml: int, times: int) -> bool:
        now = [entry(f"2{number}:00", volume_ml=volume_ml) for number in range(times)]
        given = handover(*earlier, *now, shift=NEXT_SHIFT, shifts=(SHIFT, NEXT_SHIFT))
        return getattr(verdict("volume-drop", given, limits).found, "line", None) in {"one", "two"}

    assert is_met(call.volume_ml, call.readings)
    # Half of the usual and less is a fall by one reading alone.
    is_deep = call.volume_ml + 1 <= call.usual_ml / 2
    assert is_deep or not is_met(call.volume_ml + 1, 2)


def test_within_a_shift_the_volume_is_that_of_this_shift() -> None:
    usual = [entry(f"-1 {hour}:00", volume_ml=1500) for hour in (20, 21, 22)]
    rows = [*usual, *(entry(f"{hour}:00", volume_ml=1400) for hour in ("08", "09", "10", "11"))]
    given = handover(*rows, as_of="12:00", stay_start="-1 08:00")
    assert volume_that_calls(given) == CallVolume(2, 1200, 1500)
    at_its_end = handover(*rows, stay_start="-1 08:00")
    assert volume_that_calls(at_its_end) == CallVolume(2, 1120, 1400)


def test_after_a_fall_no_volume_is_printed_that_would_be_too_low_to_call_at() -> None:
    """The usual follows the fall down: 1,500, then 1,000, would call at 800 mL only."""
    usual = [entry(f"-1 {hour}:00", volume_ml=1500) for hour in (20, 21, 22)]
    fell = [entry(f"{hour}:00", volume_ml=1000) for hour in ("08", "09", "10", "11")]
    given = handover(*usual, *fell, stay_start="-1 08:00")
    assert volume_that_calls(given) is None
    assert "good readings" not in call_if(given)


def test_of_a_small_usual_200_ml_under_it_call() -> None:
    rows = [entry(f"{hour}:00", volume_ml=900) for hour in (10, 11, 12)]
    assert volume_that_calls(handover(*rows)) == CallVolume(2, 700, 900)


def test_a_volume_without_a_usual_to_be_under_is_not_printed() -> None:
    rows = [entry(f"{hour}:00", volume_ml=1500) for hour in (10, 11)]
    assert volume_that_calls(handover(*rows)) is None
    tiny = [entry(f"{hour}:00", volume_ml=200) for hour in (10, 11, 12)]
    assert volume_that_calls(handover(*tiny)) is None
    off_form = [entry(f"{hour}:00", volume_ml=900, flow="fast") for hour in (10, 11, 12)]
    assert "readings" not in call_if(handover(*off_form))
