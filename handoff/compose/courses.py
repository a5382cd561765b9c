"""The courses of all patients in finished words and series: the whole hand-over -> `CoursesPage`.

Input: results, words. Output: a `CoursesPage`, the most urgent patient first. The verdict is in
three words at most, and never says the opposite of the sheet: a fall stands before every trend.
"""

from handoff.compose.limits import limits_in_force
from handoff.compose.patient import priority_mark
from handoff.compose.results import Results
from handoff.compose.series import course_chart
from handoff.compose.still_open import warning
from handoff.compose.ward import Ward, row_alerts
from handoff.compose.words import Words
from handoff.model.figure import VolumeChart
from handoff.model.lists import Course, CoursesPage
from handoff.model.matters import FALLS, Verdicts
from handoff.model.verdicts import Level, Priority
from handoff.model.ward import Patient

HEAVY = ("fell", "fell_before", "low", "falling", "not_started")  # verdicts to act on


def compose_courses(results: Results, words: Words, *, initials: bool = False) -> CoursesPage:
    """The courses of all patients with an order or something open."""
    ward = Ward(results, words, initials=initials)
    handover = results.handover
    return CoursesPage(
        title=words.say("courses.title", unit=handover.unit),
        shift=words.say("shift", shift=handover.shift),
        as_of=words.say("as_of", as_of=handover.as_of),
        courses=tuple(_course(ward, patient) for patient in ward.judged),
        empty="" if ward.judged else words.say("courses.empty"),
        key=words.say("courses.key"),
        standing=limits_in_force(results.limits, words),
        page_words=words.say("page"),
    )


def _course(ward: Ward, patient: Patient) -> Course:
    verdicts, measures, words = ward.verdicts[patient.id], ward.measures[patient.id], ward.words
    off_form = ward.facts[patient.id].last_off_form
    good_form = off_form is not None and off_form.at >= ward.handover.shift.start
    chart = course_chart(ward.handover, measures, words, fell=verdicts.fell, good_form=good_form)
    verdict = _verdict(ward, patient, chart)
    return Course(
        bed=ward.bed(patient),
        name=ward.name(patient),
        id=ward.identifiers(patient),
        alerts=tuple(filter(None, row_alerts(ward, patient))),
        priority=verdicts.priority,
        priority_words=words.say(f"priority.{verdicts.priority}"),
        priority_mark=priority_mark(verdicts, words),
        reason=_reason(ward, patient),
        verdict=words.say(f"courses.verdict.{verdict}"),
        is_heavy=verdict in HEAVY,
        chart=chart,
        chart_words=_chart_words(chart, words),
        off_form=ward.say("courses.off_form", patient, off_form=ward.say("said.off_form", patient)),
        spo2=ward.say("courses.spo2", patient),
        open=warning(verdicts.open_matters, measures.hold, words, holds_back=verdicts.holds_back),
    )


def _reason(ward: Ward, patient: Patient) -> str:
    """The top caution's title, where the urgency has no open matter to explain it."""
    verdicts = ward.verdicts[patient.id]
    if verdicts.priority is Priority.CONTINUE or verdicts.open_matters:
        return ""
    return ward.say("summary.top_caution", patient, titles=ward.titles(patient))


def _verdict(ward: Ward, patient: Patient, chart: VolumeChart) -> str:
    """What the volume does: a fall before all, then one low reading, then the trend."""
    verdicts, facts = ward.verdicts[patient.id], ward.facts[patient.id]
    if verdicts.fell:
        return "fell" if Level.FOLLOW_UP in _falls(verdicts) else "fell_before"
    if _falls(verdicts):
        return "low"
    if not facts.exercises_in_stay:
        return "not_started"
    return str(facts.trend.direction) if chart.readings else "none"


def _falls(verdicts: Verdicts) -> set[Level]:
    """The levels of the rules on a fall that are met in this shift."""
    met = {each.level for each in verdicts.all if each.met and each.rule in FALLS}
    return met | {Level.FOLLOW_UP} if Level.ESCALATE in met else met


def _chart_words(chart: VolumeChart, words: Words) -> str:
    volumes = [each.volume_ml for each in chart.readings]
    named = [each.label for each in (chart.usual, *chart.levels) if each]
    return words.say(
        "courses.words",
        count=len(volumes),
        least=min(volumes, default=0),
        most=max(volumes, default=0),
        names=[*named, chart.last_label],
    )
