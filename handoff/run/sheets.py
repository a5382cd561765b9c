"""Runs the stages after gathering: each unit's hand-over -> the files of its sheets.

Input: `Handover`s, one at a time, limits, printing options, an executor. Output: relative file
names and bytes, one after the other. Touches no file.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor
from functools import partial
from typing import TYPE_CHECKING, Optional

from msgspec import field
from msgspec.structs import replace

from handoff.compose.courses import compose_courses
from handoff.compose.discharge import compose_discharge
from handoff.compose.export import measures_csv, measures_json, set_aside_csv
from handoff.compose.facts import is_kept_back
from handoff.compose.languages import UnitWords
from handoff.compose.patient import compose_patient
from handoff.compose.results import Results
from handoff.compose.round_list import compose_round_list
from handoff.compose.saying import in_both_languages
from handoff.compose.unit import compose_unit
from handoff.compose.words import Words
from handoff.draw.chart import draw_course, draw_spark, draw_volume
from handoff.draw.paper import (
    PAPERS,
    Document,
    Sheet,
    Typesetter,
    draw_courses,
    draw_discharge,
    draw_patient,
    draw_round_list,
    draw_unit,
    join_sheets,
    refuse_letters,
)
from handoff.judge import follow
from handoff.judge.call_if import call_if_of_unit
from handoff.judge.since import find_changes
from handoff.limits.reading import Limits
from handoff.measure import hold_of, measure_next_shift
from handoff.model.bounds import USUAL, Bounds
from handoff.model.frozen import Frozen
from handoff.model.matters import Matter
from handoff.model.measures import Measures
from handoff.model.ward import Handover, Patient
from handoff.run.bounds import within
from handoff.run.garbage import forget_now
from handoff.run.judged import is_still_open, judge_unit
from handoff.run.ordered_map import ordered_map
from handoff.store.file_names import distinct_names

if TYPE_CHECKING:
    from handoff.fhir.bundle import Sending

File = tuple[str, bytes]  # relative name, content


class Printing(Frozen):
    """Options of printing: which sheets, paper, words and font.

    `beds` empty prints every patient with an order. Of these, patients who go home soon also get a
    page to take home. Patients in `discharge_beds` get it in any case. `templates` is a folder of
    the unit's own words; `typesetter` has the unit's own font, if any. `summary_only` prints the
    unit summary without any sheet. With `sending` each patient also gets a Bundle for the
    hospital's record.
    """

    paper: str = "letter"
    language: str = "en"
    beds: frozenset[str] = frozenset()
    discharge_beds: frozenset[str] = frozenset()
    initials: bool = False
    summary_only: bool = False
    templates: str | None = None
    typesetter: Typesetter = field(default_factory=Typesetter)
    sending: Optional["Sending"] = None

    def document(self, title: str, language: str) -> Document:
        """A PDF of this title, to be drawn."""
        return Document(self.typesetter, PAPERS[self.paper], title, language)

    def prints(self, patient: Patient) -> bool:
        """True when this patient's sheet is wanted."""
        return not self.summary_only and (not self.beds or patient.bed in self.beds)

    def sheets(self, handover: Handover, limits: Limits) -> int:
        """The number of patient sheets of one unit."""
        return sum(
            self.prints(patient)
            for patient in handover.patients
            if patient.order or is_still_open(handover, patient, limits)
        )


def produce(
    handovers: Mapping[str, Callable[[], Handover]],
    limits: Limits,
    printing: Printing,
    executor: Executor | None = None,
    bounds: Bounds = USUAL,
) -> Iterator[File]:
    """Every file by its relative name; with several units each has a folder of its own.

    `handovers` has, by unit name, a function that gathers the hand-over. It is called when the
    unit's turn comes, and the hand-over is forgotten before the next.

    Each of the executor's workers makes one unit at a time, within the bounds, a few units ahead of
    the files taken. Without an executor this process makes each file when it is taken. The files
    and their order are the same.
    """
    make = partial(_gathered_and_made, limits=limits, printing=printing)
    task = partial(_all_at_once, make, bounds) if executor else make
    units = ordered_map(executor, task, handovers.values())
    folders = distinct_names("", handovers)
    for folder, files in zip(folders, units, strict=True):
        prefix = f"{folder}/" if len(handovers) > 1 else ""
        for name, content in files:
            yield prefix + name, content


def produce_unit(handover: Handover, limits: Limits, printing: Printing) -> Iterator[File]:
    """The files of one unit by their names in its folder."""
    forget_now()
    of_unit = UnitWords(handover.unit.time_zone, printing.language, printing.templates)
    words = of_unit.staff
    results = results_of(handover, limits)
    measures, verdicts = results.measures, results.verdicts
    bookmarks, cut_notes = [], {}
    printed: defaultdict[str, dict[str, bytes]] = defaultdict(dict)
    for name, patient, sheet in _sheets(results, words, printing):
        cut_notes[patient.id] = sheet.cut_notes
        printed[patient.id]["patient-sheet"] = sheet.content
        bookmarks.append((words.say("bookmark", bed=patient.bed), sheet.content))
        yield f"patients/{name}.pdf", sheet.content
    if bookmarks:
        title = words.say("title.sheets")
        yield "patient-sheets.pdf", join_sheets(bookmarks, title, words.language)
    for name, patient, pages in _discharges(results, of_unit, printing):
        printed[patient.id]["take-home-page"] = pages
        yield f"discharge/{name}.pdf", pages
    if printing.sending:
        yield from _for_the_record(results, printed, printing, printing.sending)
    summary = compose_unit(results, words, cut_notes, initials=printing.initials)
    document = printing.document(words.say("title.summary"), words.language)
    yield "unit-summary.pdf", draw_unit(summary, document, draw_spark)
    if not printing.summary_only:
        yield from _lists(results, words, printing)
    yield "measures.json", measures_json(handover, measures, verdicts)
    yield "measures.csv", measures_csv(handover, measures, verdicts)
    yield "set-aside.csv", set_aside_csv(handover.logs)


def _lists(results: Results, words: Words, printing: Printing) -> Iterator[File]:
    """The round list of the next shift, and the courses of all patients."""
    following = measure_next_shift(results.handover)
    of_unit = call_if_of_unit(results.limits)
    initials = printing.initials
    rounds = compose_round_list(results, following, of_unit, words, initials=initials)
    document = printing.document(words.say("round.document"), words.language)
    yield "round-list.pdf", draw_round_list(rounds, document)
    courses = compose_courses(results, words, initials=initials)
    document = printing.document(words.say("courses.document"), words.language)
    yield "trends.pdf", draw_courses(courses, document, draw_course)


def _for_the_record(
    results: Results,
    printed: Mapping[str, Mapping[str, bytes]],
    printing: Printing,
    sending: "Sending",
) -> Iterator[File]:
    """(file name, Bundle) of each patient of whom there is something to send. A Bundle has the name
    of the patient's sheet.
    """
    from handoff.fhir.bundle import transaction  # noqa: PLC0415 - few sheets are sent
    from handoff.fhir.results import Findings  # noqa: PLC0415 - the same

    handover = results.handover
    found = {
        key: Findings(each, results.verdicts[key], printed[key])
        for key, each in results.measures.items()
    }
    patients = {each.id: each for each in (*handover.patients, *handover.gone)}
    ids = [*found, *(key for key in patients if key not in found)]
    names = distinct_names("bed-", (patients[key].bed for key in ids))
    for name, key in zip(names, ids, strict=True):
        if printing.prints(patients[key]):
            bundle = transaction(sending, handover, patients[key], found.get(key, Findings()))
            if bundle:
                yield f"fhir/{name}.json", bundle


def results_of(handover: Handover, limits: Limits) -> Results:
    """The measures, verdicts and changes of one unit's patients."""
    judged = judge_unit(handover, limits)
    since = find_changes(handover, judged.measures, judged.verdicts)
    gone = {each.id: (judged.matters[each.id], hold_of(handover, each)) for each in handover.gone}
    first = {key: handover.listings[key][0].shift for key in handover.stay_before}
    new = [key for key, shift in first.items() if shift == handover.shift]
    left_open = {key: _left_open(handover, key, limits) for key in new}
    return Results(handover, judged.measures, judged.verdicts, limits, since, gone, left_open)


def _left_open(handover: Handover, patient_id: str, limits: Limits) -> tuple[Matter, ...]:
    """The matters still open when the stay before this one ended."""
    listings = handover.stay_before[patient_id]
    before = replace(
        handover,
        as_of=listings[-1].shift.end,
        listings={patient_id: listings},
        entries={patient_id: handover.entries_before[patient_id]},
        stay_start={},
    )
    matters = follow(before, listings[-1].patient, limits)
    return tuple(each for each in matters if each.holds_back)


def _gathered_and_made(
    gather: Callable[[], Handover], limits: Limits, printing: Printing
) -> Iterator[File]:
    """The files of a unit, each made when it is taken."""
    yield from produce_unit(gather(), limits, printing)


def _all_at_once(
    make: Callable[[Callable[[], Handover]], Iterator[File]],
    bounds: Bounds,
    gather: Callable[[], Handover],
) -> list[File]:
    """All files of a unit: the result of a worker."""
    with within(bounds):
        return list(make(gather))


def _sheets(
    results: Results, words: Words, printing: Printing
) -> Iterator[tuple[str, Patient, Sheet]]:
    """(file name, patient, sheet) of each patient, in bed order."""
    named = named_patients(results.measures)
    document = printing.document(words.say("title.sheet"), words.language)
    for number, (name, patient) in enumerate(named, start=1):
        if printing.prints(patient):
            page = compose_patient(results, patient, words, (number, len(named)))
            yield name, patient, draw_patient(page, document, draw_volume)


def _discharges(
    results: Results, of_unit: UnitWords, printing: Printing
) -> Iterator[tuple[str, Patient, bytes]]:
    """(file name, patient, PDF) of the page to take home of each patient who gets one."""
    shift, zone = results.handover.shift, results.handover.unit.time_zone
    for name, patient in named_patients(results.measures):
        kept_back = is_kept_back(results.measures[patient.id], results.verdicts[patient.id])
        wanted = printing.prints(patient) and not kept_back
        goes_home = wanted and patient.goes_home_soon(shift, zone)
        if goes_home or patient.bed in printing.discharge_beds:
            measures, words = results.measures[patient.id], of_unit.of(patient)
            if words.staff:
                refuse_letters(words.language, words.texts(), printing.typesetter)
            compose = partial(compose_discharge, results.handover, measures)
            document = printing.document(words.say("discharge.title"), words.language)
            page, *beside = in_both_languages(words, compose)
            yield name, patient, draw_discharge(page, document, *beside)


def named_patients(measures: Mapping[str, Measures]) -> list[tuple[str, Patient]]:
    """(file name, patient) of each patient with an order, in bed order."""
    patients = [each.patient for each in measures.values()]
    names = distinct_names("bed-", (patient.bed for patient in patients))
    return list(zip(names, patients, strict=True))
