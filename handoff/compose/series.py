"""The series of the volume chart, in hours and mL, with finished labels.

Input: hand-over, measures, words. Output: a `VolumeChart`. Draws nothing.
"""

from collections.abc import Iterator, Sequence
from datetime import datetime, time, timedelta
from math import ceil
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from handoff.compose.words import Words
from handoff.model.figure import (
    Dot,
    LevelLine,
    Mark,
    Spark,
    Strip,
    Style,
    Tick,
    TrendLine,
    UsualLine,
    VolumeChart,
)
from handoff.model.measures import TREND_D, GoalSource, Measures, Span
from handoff.model.ward import DIZZY_SYMPTOMS, Entry, Handover, Patient, Symptom

DRAWN = timedelta(days=TREND_D)
LEAST_WINDOW = timedelta(hours=24)
STEPS_ML = (50, 100, 250, 500, 1000, 2000)
MOST_STEPS = 6
HEADROOM = 1.08
NO_SCALE_ML = 1.0  # of an axis with nothing on it: it names no volume but 0
# A device's scale far above every reading would flatten the readings: it is then not drawn.
SCALE_IN_SIGHT = 1.35


def volume_chart(
    handover: Handover, measures: Measures, words: Words, *, fell: bool
) -> VolumeChart:
    """All that the volume chart of one patient shows, of the last 7 days.

    `fell`: a fall is met or open. The last readings are then ringed, and no trend is drawn but a
    falling one.
    """
    as_of = handover.as_of
    shown = shown_entries(handover, measures)
    readings = [entry for entry in shown if entry.is_reading]
    start = min([entry.at for entry in shown] + [handover.shift.start, as_of - LEAST_WINDOW])
    levels = _levels(measures, readings, words)
    usual = _usual(measures, as_of, words, fell=fell)
    highest = max(
        [entry.volume_ml or 0 for entry in readings] + [level.volume_ml for level in levels],
        default=0,
    )
    step_ml = next((step for step in STEPS_ML if highest <= step * MOST_STEPS), STEPS_ML[-1])
    # Where nothing fell, the last reading is named alone.
    last = measures.volume.recent.last[: None if fell else 1]
    return VolumeChart(
        x_low_h=_hours(start, as_of),
        x_high_h=0.0,
        top_ml=max(highest * HEADROOM, float(step_ml)) if highest else NO_SCALE_ML,
        step_ml=step_ml,
        nights=tuple(_nights(measures.nights, start, as_of)),
        ticks=tuple(_ticks(handover, start, words)),
        readings=tuple(_reading(entry, measures.patient, as_of) for entry in readings),
        middles=_middles(measures, as_of),
        usual=usual,
        last=tuple((_hours(entry.at, as_of), entry.volume_ml or 0.0) for entry in last),
        last_label=_last_label(last, measures.patient, words),
        fell=fell and bool(last),
        levels=levels,
        trend=_trend(measures, words) if measures.trend.is_given(fell=fell) else None,
        dizzy=tuple(
            _hours(entry.at, as_of)
            for entry in shown
            if not entry.signs.symptoms.isdisjoint(DIZZY_SYMPTOMS)
        ),
        dizzy_label=words.say("chart.dizzy"),
        empty_words=None if readings else words.say("chart.empty"),
    )


def course_chart(
    handover: Handover, measures: Measures, words: Words, *, fell: bool, good_form: bool
) -> VolumeChart:
    """The same of one patient among others, without what only the sheet has room for: always over
    the last 7 days, so that the days of all stand below each other, with the goal or the own
    baseline alone, and no trend line, night, scale or dizziness.

    The top is of the patient's own volumes and goal: on one scale for all a fall of somebody with
    small volumes could not be seen. `good_form`: the shift's last reading is off form, so that
    the one named as the last is said to be the last in good form.
    """
    as_of, goal_ml = handover.as_of, measures.goal.goal_ml
    chart = volume_chart(handover, measures, words, fell=fell)
    level = next((each for each in chart.levels if each.volume_ml == goal_ml), None)
    drawn = [*(each.volume_ml for each in chart.readings), goal_ml or 0.0]
    midnights = [each for each in _ticks(handover, as_of - DRAWN, words) if each.label]
    unnamed = midnights[-2::-2]  # there is room for every other day

    def named(name: str, volume_ml: float) -> str:
        at_scale = measures.patient.is_at_scale(volume_ml) and name != "goal"
        own = {"volume_ml": volume_ml, "at_scale": at_scale, "good_form": good_form}
        return words.say(f"courses.named.{name}", **own)

    usual_name = "before" if measures.volume.usual_ml is None else "usual"
    last = chart.last[:1]
    none_now = words.say("courses.none_now", good_form=good_form) if chart.readings else ""
    return replace(
        chart,
        x_low_h=-24.0 * TREND_D,
        top_ml=max(drawn) * HEADROOM if any(drawn) else NO_SCALE_ML,
        nights=(),
        ticks=tuple(replace(each, label=None) if each in unnamed else each for each in midnights),
        usual=chart.usual and replace(chart.usual, label=named(usual_name, chart.usual.volume_ml)),
        levels=(replace(level, label=named(str(level.style), level.volume_ml)),) if level else (),
        last=last,
        trend=None,
        dizzy=(),
        last_label=named("last", last[0][1]) if last else none_now,
    )


def chart_words(chart: VolumeChart, words: Words) -> str:
    """What the chart shows, to who cannot see it: the same facts as its labels."""
    goals = [level.label for level in chart.levels if level.style is Style.GOAL]
    lines = (chart.last_label, chart.usual, chart.trend, *goals)
    labels = [each if isinstance(each, str) else each.label for each in lines if each]
    return words.say(
        "chart.said",
        count=len(chart.readings),
        days=ceil((chart.x_high_h - chart.x_low_h) / 24),
        fell=chart.fell,
        labels=labels,
        dizzy=len(chart.dizzy),
    )


def spark_words(spark: Spark, words: Words) -> str:
    """What the small trend line shows, to who cannot see it."""
    volumes = [volume_ml for _, volume_ml in spark.points]
    return words.say("chart.spark", volumes=volumes) if volumes else ""


def shown_entries(handover: Handover, measures: Measures) -> tuple[Entry, ...]:
    """The entries of the time that the chart shows."""
    return tuple(each for each in measures.drawn_entries if handover.as_of - DRAWN <= each.at)


def sign_strips(handover: Handover, measures: Measures, words: Words) -> tuple[Strip, ...]:
    """SpO2, breathing rate, pain and symptoms over the time of the chart.

    A measured value stands between the least and the greatest of the time, pain between 0 and 10. A
    symptom is filled; hollow where it was asked, and there was none.
    """
    shown, as_of = shown_entries(handover, measures), handover.as_of

    def measured(name: str, low: float | None = None, high: float | None = None) -> Strip:
        known = [
            (_hours(each.at, as_of), float(value))
            for each in shown
            if (value := getattr(each.signs, name)) is not None
        ]
        label = words.say("chart.strip", name=words.say(f"chart.strips.{name}"), count=len(known))
        if not known:
            return Strip(label, ())
        values = [value for _, value in known]
        least, most = min(values) if low is None else low, max(values) if high is None else high
        span = most - least
        places = tuple(
            (hours, (value - least) / span if span else 0.5, True) for hours, value in known
        )
        return Strip(label, places, f"{least:g}", f"{most:g}")

    asked = tuple(
        (_hours(each.at, as_of), 0.5, each.signs.charted != {Symptom.NONE})
        for each in shown
        if each.signs.charted
    )
    name = words.say("chart.strips.symptoms")
    symptoms = Strip(words.say("chart.strip", name=name, count=len(asked)), asked)
    return measured("spo2"), measured("resp_rate"), measured("pain", 0, 10), symptoms


def form_of(entry: Entry, patient: Patient) -> Mark | None:
    """How a reading is drawn; None for what is no reading."""
    if not entry.is_reading:
        return None
    if not entry.good_form:
        return Mark.OFF_FORM
    return Mark.AT_SCALE if patient.is_at_scale(entry.volume_ml) else Mark.GOOD


def spark(measures: Measures, as_of: datetime) -> Spark:
    """The small trend line: the same points and the same goal as on the chart."""
    return Spark(_middles(measures, as_of), measures.goal.goal_ml)


def _middles(measures: Measures, as_of: datetime) -> tuple[tuple[float, float], ...]:
    """The middle reading of each block."""
    return tuple((_hours(point.at, as_of), point.volume_ml) for point in measures.trend.points)


def _usual(measures: Measures, as_of: datetime, words: Words, *, fell: bool) -> UsualLine | None:
    """The usual that the last readings are compared with. Early in a stay it is not known: the
    middle of the few readings before the last one is shown only where the volume fell under it.
    """
    recent = measures.volume.recent
    if recent.compared_ml is None or (recent.usual_ml is None and not fell):
        return None
    label = words.say(
        "chart.usual",
        usual_ml=recent.usual_ml,
        compared_ml=recent.compared_ml,
        at_scale=measures.patient.is_at_scale(recent.compared_ml),
    )
    return UsualLine(_hours(recent.compared[0].at, as_of), recent.compared_ml, label)


def _hours(instant: datetime, as_of: datetime) -> float:
    return (instant - as_of).total_seconds() / 3600


def _reading(entry: Entry, patient: Patient, as_of: datetime) -> Dot:
    mark = form_of(entry, patient) or Mark.OFF_FORM
    return Dot(_hours(entry.at, as_of), entry.volume_ml or 0.0, mark)


def _last_label(last: Sequence[Entry], patient: Patient, words: Words) -> str:
    """`last 900 mL, 850 mL`, in time order; '' without a reading."""
    known = [(each.volume_ml, patient.is_at_scale(each.volume_ml)) for each in reversed(last)]
    return words.say("chart.last", last=known) if known else ""


def _levels(measures: Measures, readings: list[Entry], words: Words) -> tuple[LevelLine, ...]:
    """Ordered goal, baseline and device scale, where they are known; a baseline that is the goal
    once."""
    goal, patient = measures.goal, measures.patient
    ordered_ml = goal.goal_ml if goal.source is GoalSource.ORDERED else None
    levels = []
    if ordered_ml is not None:
        label = words.say("chart.goal", goal=goal)
        levels.append(LevelLine(ordered_ml, label, Style.GOAL))
    baseline_ml = patient.baseline_ml
    if baseline_ml is not None and baseline_ml != ordered_ml:
        label = words.say("chart.baseline", baseline_ml=baseline_ml)
        levels.append(LevelLine(baseline_ml, label, Style.BASELINE))
    scale_ml = patient.device_scale_ml
    others = [entry.volume_ml or 0 for entry in readings] + [level.volume_ml for level in levels]
    if scale_ml is not None and others and scale_ml <= SCALE_IN_SIGHT * max(others):
        label = words.say("chart.scale", scale_ml=scale_ml)
        levels.append(LevelLine(scale_ml, label, Style.SCALE))
    return tuple(levels)


def _trend(measures: Measures, words: Words) -> TrendLine | None:
    """The line over its points, and the ends of its interval, all turned about the middle point."""
    trend, fitted = measures.trend, measures.trend.line
    if fitted is None:
        return None

    def ends(slope: float) -> tuple[float, float]:
        """The volumes at the first point and at 'data as of'."""
        first = fitted.middle_y + slope * (trend.days[0] - fitted.middle_x)
        return first, fitted.middle_y - slope * fitted.middle_x

    return TrendLine(
        x0_h=24 * trend.days[0],
        x1_h=0.0,
        middle_ml=ends(fitted.slope),
        low_ml=ends(fitted.low),
        high_ml=ends(fitted.high),
        label=words.say("chart.trend", trend=trend),
    )


def _local_midnights(start: datetime, end: datetime, zone: ZoneInfo) -> Iterator[datetime]:
    day = start.astimezone(zone).date()
    while (midnight := datetime.combine(day, time(), zone)) <= end:
        yield midnight
        day += timedelta(days=1)


def _ticks(handover: Handover, start: datetime, words: Words) -> Iterator[Tick]:
    as_of, zone = handover.as_of, handover.unit.time_zone
    for midnight in _local_midnights(start, as_of, zone):
        if midnight >= start:
            yield Tick(_hours(midnight, as_of), words.day(midnight.date()))
    borders = {border for shift in handover.shifts for border in (shift.start, shift.end)}
    for border in sorted(borders):
        if start <= border <= as_of:
            yield Tick(_hours(border, as_of), None)


def _nights(
    nights: Sequence[Span], start: datetime, as_of: datetime
) -> Iterator[tuple[float, float]]:
    """The quiet hours as spans of the time axis."""
    for night in nights:
        begins, ends = max(night.start, start), min(night.end, as_of)
        if begins < ends:
            yield _hours(begins, as_of), _hours(ends, as_of)
