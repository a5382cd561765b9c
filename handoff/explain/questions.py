"""What each rule asks, in a line, with the limits in force.

Input: `Limits`. Output: short texts. Whether a rule is met is not for this module to say.
"""

from collections.abc import Mapping

from handoff.limits.reading import Limits, shown


def asked(rule: str, limits: Limits) -> str:
    """The rule's question with its limits in it."""
    named = limits.rules[rule].limits
    return QUESTIONS[rule].format(**{name: shown(limit.value) for name, limit in named.items()})


# `{name}` stands for the rule's limit of that name.
QUESTIONS: Mapping[str, str] = {
    "low-oxygen": (
        "SpO2 under the order's own limit; where none is ordered, {spo2_at_or_under} % or less"
    ),
    "breathing-rate": (
        "breathing rate {resp_rate_at_or_under} /min or less, or {resp_rate_at_or_over} or more"
    ),
    "pulse": "pulse {pulse_at_or_under} /min or less, or {pulse_at_or_over} or more",
    "low-temperature": "temperature {temp_c_at_or_under} °C or less",
    "fever": "temperature {temp_c_at_or_over} °C or more",
    "faint-or-chest-pain": "faint or chest pain charted",
    "drowsy-or-confused": "drowsy or confused charted",
    "dizziness": "dizzy or tingling charted",
    "dizziness-again": "dizzy or tingling charted at {times_at_or_over} different times or more",
    "dizziness-with-signs": (
        "dizzy or tingling within {minutes_at_or_under} min of low oxygen, breathing rate or "
        "pulse at a limit, faint, chest pain, drowsy or confused"
    ),
    "breathless": "breathless or wheeze charted",
    "volume-drop": (
        "best {percent_at_or_under} % or less of the best of the 24 h before, with "
        "{readings_at_or_over} good-form readings or more (with fewer a note)"
    ),
    "volume-drop-with-signs": (
        "the fall of volume-drop with {readings_with_signs_at_or_over} good-form readings or more"
        " and low oxygen, breathing rate, fever or breathless; or {percent_at_or_under} % or less"
        " with {readings_at_or_over} readings or more"
    ),
    "falling-trend": "trend falling",
    "volume-too-low": (
        "best of the stay under {part_of_reference_under} of the reference; where that is not "
        "known, under {ml_per_kg_under} mL/kg; with {readings_at_or_over} good-form readings"
    ),
    "not-started": (
        "no exercise in the stay, {hours_at_or_over} available hours or more after its start"
    ),
    "nothing-charted": (
        "started before, {slots_due_at_or_over} slots due or more, and no row in the shift"
    ),
    "not-charted": (
        "{part_of_slots_at_or_over} or more of the slots due uncharted, {slots_at_or_over} at least"
    ),
    "no-return-demonstration": "exercises in the stay, and no showing back",
    "not-labelled": "device given, and its label 'no' or not recorded",
    "low-adherence": (
        "percent_of_charted under {percent_under}, with {charted_slots_at_or_over} charted slots "
        "or more"
    ),
    "declined": "{entries_at_or_over} 'declined' or more",
    "pain-limits": (
        "pain {pain_once_at_or_over} or more at an exercise, or {pain_at_or_over} or more at "
        "{exercises_at_or_over}"
    ),
    "technique": (
        "{blew_at_or_over} blown exercise or more, or {part_off_form_at_or_over} or more of "
        "{exercises_at_or_over} exercises or more fast or slow"
    ),
    "short-hold": (
        "median hold under the ordered one, over {exercises_at_or_over} exercises or more"
    ),
    "too-many-at-once": (
        "more than {breaths_over} breaths at one time with dizzy or tingling in that row"
    ),
    "exercise-on-hold": "an exercise charted while the exercise was held",
    "came-from-elsewhere": (
        "first listed in this shift, earlier logs of the unit are given, and the order began "
        "{hours_at_or_over} h or more before the shift"
    ),
    "goal-reached": "best at or over an ordered or baseline goal",
    "goal-over-scale": "goal above the device's scale",
    "reading-at-scale": "a reading of the shift at or above the device's scale",
    "no-goal": "order active, and no ordered goal",
    "going-home": (
        "planned discharge {days_at_or_under} day after the shift's end or sooner, and showing "
        "back, device or label missing"
    ),
}
