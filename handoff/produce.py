"""Runs the stages after reading: one unit's hand-over -> the files that are handed over.

Enters: a `Handover`, limits, words, and what to print. Leaves: relative file names and bytes, and
findings about what cannot be printed as written. Touches no file.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from handoff.chart import draw_spark, draw_volume
from handoff.compose import (
    Results,
    Words,
    compose_discharge,
    compose_patient,
    compose_unit,
    goes_home_soon,
)
from handoff.export import measures_csv, measures_json, set_aside_csv
from handoff.file_names import distinct_names
from handoff.findings import Finding
from handoff.judge import judge
from handoff.limits import Limits
from handoff.measure import measure
from handoff.measures import Measures
from handoff.model import Handover, Patient
from handoff.paper import (
    PAPERS,
    draw_discharge,
    draw_patient,
    draw_unit,
    join_sheets,
    letters_lacking,
)
from handoff.since import find_changes

SHEET_TITLE = "Incentive spirometry: patient sheet"
SHEETS_TITLE = "Incentive spirometry: patient sheets"
SUMMARY_TITLE = "Incentive spirometry: unit summary"
DISCHARGE_TITLE = "Breathing exercise to take home"


@dataclass(frozen=True, slots=True)
class Printing:
    """What to print, on what and in which language.

    `beds` empty prints every patient with an order. The patients of these beds who go home soon get
    a page to take home, and those of `discharge_beds` whether or not it is recorded.
    """

    paper: str = "letter"
    language: str = "en"
    beds: frozenset[str] = frozenset()
    discharge_beds: frozenset[str] = frozenset()
    initials: bool = False
    progress: Callable[[int, int], None] = field(default=lambda _done, _all: None)


def produce(
    handovers: Sequence[Handover], limits: Limits, own_templates: str | None, printing: Printing
) -> tuple[dict[str, bytes], list[Finding]]:
    """Every file by its relative name; with several units each has a folder of its own."""
    files: dict[str, bytes] = {}
    findings: list[Finding] = []
    folders = distinct_names("", (handover.unit.name for handover in handovers))
    for handover, folder in zip(handovers, folders, strict=True):
        words = Words(handover.unit.time_zone, printing.language, own_templates)
        prefix = f"{folder}/" if len(handovers) > 1 else ""
        unit_files = produce_unit(handover, limits, words, printing)
        files |= {prefix + name: content for name, content in unit_files.items()}
        findings += letters_lacking(handover.patients)
    return files, findings


def produce_unit(
    handover: Handover, limits: Limits, words: Words, printing: Printing
) -> dict[str, bytes]:
    """The files of one unit by their names in its folder."""
    measures = measure(handover)
    verdicts = {patient_id: judge(each, handover, limits) for patient_id, each in measures.items()}
    since = find_changes(handover, measures, verdicts, limits)
    results = Results(handover, measures, verdicts, limits, since)
    unit_page = compose_unit(results, words, initials=printing.initials)
    sheets = dict(_sheets(results, words, printing))
    discharges = _discharges(results, words, printing)
    bookmarks = [(words.say("bookmark", bed=bed), sheet) for bed, sheet in sheets.values()]
    files = {
        "unit-summary.pdf": draw_unit(
            unit_page, PAPERS[printing.paper], draw_spark, SUMMARY_TITLE, words.language
        ),
        **{f"patients/{name}.pdf": sheet for name, (_, sheet) in sheets.items()},
        **{f"discharge/{name}.pdf": pages for name, pages in discharges},
        "measures.json": measures_json(handover, measures, verdicts),
        "measures.csv": measures_csv(handover, measures, verdicts),
        "set-aside.csv": set_aside_csv(handover.logs),
    }
    if bookmarks:
        files["patient-sheets.pdf"] = join_sheets(bookmarks, SHEETS_TITLE, words.language)
    return files


def _sheets(
    results: Results, words: Words, printing: Printing
) -> Iterator[tuple[str, tuple[str, bytes]]]:
    """(file name, (bed, PDF)) of each patient's sheet, in bed order."""
    named = _named(results.measures)
    for number, (name, patient) in enumerate(named, start=1):
        if printing.beds and patient.bed not in printing.beds:
            continue
        page = compose_patient(results, patient, words, (number, len(named)))
        sheet = draw_patient(page, PAPERS[printing.paper], draw_volume, SHEET_TITLE, words.language)
        printing.progress(number, len(named))
        yield name, (patient.bed, sheet)


def _discharges(results: Results, words: Words, printing: Printing) -> Iterator[tuple[str, bytes]]:
    """(file name, PDF) of the page to take home of each patient who gets one."""
    for name, patient in _named(results.measures):
        printed = not printing.beds or patient.bed in printing.beds
        goes_home = printed and goes_home_soon(results.handover, patient)
        if goes_home or patient.bed in printing.discharge_beds:
            page = compose_discharge(results.handover, results.measures[patient.id], words)
            paper = PAPERS[printing.paper]
            yield name, draw_discharge(page, paper, DISCHARGE_TITLE, words.language)


def _named(measures: Mapping[str, Measures]) -> list[tuple[str, Patient]]:
    """(file name, patient) of each patient with an order, in bed order."""
    patients = [each.patient for each in measures.values()]
    names = distinct_names("bed-", (patient.bed for patient in patients))
    return list(zip(names, patients, strict=True))
