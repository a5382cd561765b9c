"""What the patient's rows and measures hold against a rule's question.

Input: a `Subject`. Output: short texts. Whether a rule is met is not for this module to say.
"""

from collections.abc import Callable, Mapping, Sequence
from statistics import median

from handoff.explain.subject import Subject
from handoff.explain.text import exact
from handoff.judge import rows_of
from handoff.judge.case import Case
from handoff.judge.dizziness import GRAVE_SIGNS
from handoff.judge.signs import SYMPTOMS, VITALS, reads, signs_seen
from handoff.judge.volume import SIGNS_WITH_DROP
from handoff.model.ward import Done, Entry, Flow, What


def seen(rule: str, subject: Subject) -> str:
    """What there is to answer the rule's question with."""
    return SEEN[rule](subject)


def _vital(rule: str) -> Callable[[Subject], str]:
    def recorded(subject: Subject) -> str:
        vital = VITALS[rule]
        all_values = (vital.value(row.signs) for row in subject.measures.caution_entries)
        values = [value for value in all_values if value is not None]
        if not values:
            return f"{vital.name} not recorded"
        return f"{vital.name} {_range(values)} in {_rows(len(values))}"

    return recorded


def _low_oxygen(subject: Subject) -> str:
    ordered = subject.order.spo2_min
    limit = "no limit ordered" if ordered is None else f"ordered {exact(ordered)} % or more"
    return f"{_vital('low-oxygen')(subject)}; {limit}"


def _symptom(rule: str) -> Callable[[Subject], str]:
    def charted(subject: Subject) -> str:
        rows = _with_symptom(rule, subject)
        times = ", ".join(dict.fromkeys(subject.when(row.at) for row in rows))
        at = f" (at {times})" if times else ""
        return f"charted in {len(rows)} of {_rows(len(subject.measures.caution_entries))}{at}"

    return charted


def _with_symptom(rule: str, subject: Subject) -> list[Entry]:
    wanted = set(SYMPTOMS[rule])
    return [row for row in subject.measures.caution_entries if row.signs.symptoms & wanted]


def _dizzy_with_signs(subject: Subject) -> str:
    signs = _signs("dizziness-with-signs", GRAVE_SIGNS, subject)
    return f"{_symptom('dizziness')(subject)}; signs: {signs}"


def _drop_with_signs(subject: Subject) -> str:
    signs = _signs("volume-drop-with-signs", SIGNS_WITH_DROP, subject)
    return f"{_drop(subject)}; signs: {signs}"


def _signs(rule: str, rules: Sequence[str], subject: Subject) -> str:
    case = Case(rule, rows_of(subject.measures), subject.limits)
    found = signs_seen(case, rules)
    seen = (f"{reads(sign.rule, sign.seen)} at {subject.when(sign.entry.at)}" for sign in found)
    return ", ".join(seen) or "none"


def _drop(subject: Subject) -> str:
    volume = subject.measures.volume
    if volume.best_ml is None or not volume.previous_best_ml:
        return f"best {exact(volume.best_ml)} mL, previous best {exact(volume.previous_best_ml)} mL"
    percent = 100 * volume.best_ml / volume.previous_best_ml
    good = sum(row.is_good_reading for row in subject.measures.shift_entries)
    return (
        f"best 100 x {exact(volume.best_ml)} / {exact(volume.previous_best_ml)} = "
        f"{exact(percent)} %; good-form readings in the shift: {good}"
    )


def _direction(subject: Subject) -> str:
    trend = subject.measures.trend
    if trend.low is None:
        return f"direction {trend.direction}, points {trend.n}"
    interval = f"{exact(trend.low)} to {exact(trend.high)} mL a day"
    return f"direction {trend.direction}, interval {interval}"


def _size(subject: Subject) -> str:
    best, reference = subject.measures.volume.stay_best_ml, subject.measures.reference
    good, weight = len(subject.good_readings()), subject.patient.weight_kg
    if reference is not None:
        size = f"reference {exact(reference.volume_ml)} mL"
    else:
        size = f"no reference, weight {exact(weight)} kg"
    return f"best of the stay {exact(best)} mL; good-form readings: {good}; {size}"


def _exercises_in_stay(subject: Subject) -> str:
    rows = subject.measures.stay_entries
    return f"exercises in the stay: {sum(row.is_exercise for row in rows)}"


def _started(subject: Subject) -> str:
    hours = exact(subject.measures.available_h)
    return f"{_exercises_in_stay(subject)}; available hours: {hours}"


def _entries(subject: Subject) -> str:
    slots, rows = subject.measures.adherence.slots_due, subject.measures.caution_entries
    start = subject.handover.shift.start
    before = sum(row.is_exercise and row.at < start for row in subject.measures.stay_entries)
    return f"rows in the shift: {len(rows)}; slots due: {slots}; exercises before: {before}"


def _uncharted(subject: Subject) -> str:
    adherence = subject.measures.adherence
    return f"{adherence.slots_uncharted} of {adherence.slots_due} slots due are uncharted"


def _shown_back(subject: Subject) -> str:
    return f"{_exercises_in_stay(subject)}; shown back: {_done(subject.patient.shown_back)}"


def _labelled(subject: Subject) -> str:
    patient = subject.patient
    return f"device: {_done(patient.device_given)}; label: {_done(patient.device_labelled)}"


def _percent_of_charted(subject: Subject) -> str:
    adherence = subject.measures.adherence
    charted = adherence.slots_due - adherence.slots_uncharted
    return f"percent_of_charted {exact(adherence.percent_of_charted)} %; charted slots: {charted}"


def _declined(subject: Subject) -> str:
    rows = subject.measures.caution_entries
    return f"{_rows(sum(row.what is What.DECLINED for row in rows))} with 'declined'"


def _exercises(subject: Subject) -> list[Entry]:
    return [row for row in subject.measures.caution_entries if row.is_exercise]


def _pain(subject: Subject) -> str:
    pains = [row.signs.pain for row in _exercises(subject) if row.signs.pain is not None]
    return f"pain at exercises: {', '.join(map(str, pains)) or 'not recorded'}"


def _form(subject: Subject) -> str:
    flows = [row.flow for row in _exercises(subject)]
    off_form = flows.count(Flow.FAST) + flows.count(Flow.SLOW)
    blew, blank = flows.count(Flow.BLEW), flows.count(None)
    counts = f"blown: {blew}, fast or slow: {off_form}, without a flow: {blank}"
    return f"exercises: {len(flows)}, of these {counts}"


def _held(subject: Subject) -> str:
    holds = [row.hold_s for row in _exercises(subject) if row.hold_s is not None]
    middle = exact(median(holds)) if holds else exact(None)
    return f"median {middle} s; holds: {len(holds)}; ordered {exact(subject.order.hold_s)} s"


def _at_once(subject: Subject) -> str:
    rows = [row for row in _with_symptom("dizziness", subject) if row.is_exercise]
    counts = [exact(row.breaths) for row in rows if row.until is None]
    return f"breaths at exercises of that kind: {', '.join(counts) or 'none'}"


def _goal(subject: Subject) -> str:
    goal, volume = subject.measures.goal, subject.measures.volume
    return f"best {exact(volume.best_ml)} mL, goal {exact(goal.goal_ml)} mL ({goal.source})"


def _goal_and_scale(subject: Subject) -> str:
    goal, scale = subject.measures.goal.goal_ml, subject.patient.device_scale_ml
    return f"goal {exact(goal)} mL, scale {exact(scale)} mL"


def _highest(subject: Subject) -> str:
    rows = [row for row in subject.measures.shift_entries if row.is_reading]
    highest = max((row.volume_ml or 0 for row in rows), default=None)
    return f"highest {exact(highest)} mL, scale {exact(subject.patient.device_scale_ml)} mL"


def _ordered_goal(subject: Subject) -> str:
    active = subject.order.active_at(subject.handover.as_of)
    goal = f"ordered goal {exact(subject.order.goal_ml)} mL"
    return f"{goal}; order {'active' if active else 'not active'}"


def _home(subject: Subject) -> str:
    patient = subject.patient
    home_on = "not recorded" if patient.home_on is None else patient.home_on.isoformat()
    return f"going home: {home_on}; shown back: {_done(patient.shown_back)}; {_labelled(subject)}"


def _on_hold(subject: Subject) -> str:
    return f"exercises charted while held: {_rows(len(subject.measures.exercised_on_hold))}"


def _from_where(subject: Subject) -> str:
    unknown = subject.patient.id in subject.handover.from_elsewhere
    where = "not known where from" if unknown else "listed before, or no earlier log is given"
    return f"{where}; order began {subject.when(subject.order.start)}"


def _range(values: list[float]) -> str:
    low, high = min(values), max(values)
    return exact(low) if low == high else f"{exact(low)} to {exact(high)}"


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"


def _done(state: Done) -> str:
    if state is None:
        return "not recorded"
    return "not done" if state is False else "done"


SEEN: Mapping[str, Callable[[Subject], str]] = {
    "low-oxygen": _low_oxygen,
    "breathing-rate": _vital("breathing-rate"),
    "pulse": _vital("pulse"),
    "low-temperature": _vital("low-temperature"),
    "fever": _vital("fever"),
    "faint-or-chest-pain": _symptom("faint-or-chest-pain"),
    "drowsy-or-confused": _symptom("drowsy-or-confused"),
    "dizziness": _symptom("dizziness"),
    "dizziness-again": _symptom("dizziness"),
    "dizziness-with-signs": _dizzy_with_signs,
    "breathless": _symptom("breathless"),
    "volume-drop": _drop,
    "volume-drop-with-signs": _drop_with_signs,
    "falling-trend": _direction,
    "volume-too-low": _size,
    "not-started": _started,
    "nothing-charted": _entries,
    "not-charted": _uncharted,
    "no-return-demonstration": _shown_back,
    "not-labelled": _labelled,
    "low-adherence": _percent_of_charted,
    "declined": _declined,
    "pain-limits": _pain,
    "technique": _form,
    "short-hold": _held,
    "too-many-at-once": _at_once,
    "exercise-on-hold": _on_hold,
    "came-from-elsewhere": _from_where,
    "goal-reached": _goal,
    "goal-over-scale": _goal_and_scale,
    "reading-at-scale": _highest,
    "no-goal": _ordered_goal,
    "going-home": _home,
}
