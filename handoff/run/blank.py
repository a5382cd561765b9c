"""Runs the stages for a log to fill in: known facts -> `blank.pdf` and the starters.

Input: the results of the shift before, or a `Blank` for each unit, and how to print. Output:
relative file names and bytes, and findings about what cannot be printed as written. Touches no
file.
"""

from collections.abc import Sequence

from msgspec import field
from msgspec.structs import replace

from handoff.compose.blank import compose_patient_blanks, compose_unit_blank
from handoff.compose.facts import last_entry_at
from handoff.compose.languages import UnitWords
from handoff.compose.patient import A_LATE_START
from handoff.compose.results import Results
from handoff.compose.still_open import open_comments
from handoff.draw.paper import PAPERS, Document, Typesetter, draw_blank, letters_lacking
from handoff.log.blank import Blank, StillOpen, starter_csv, starter_xlsx, starter_yaml
from handoff.model.findings import Finding
from handoff.model.frozen import Frozen
from handoff.model.ward import Handover, Order, Patient
from handoff.store.file_names import distinct_names


class BlankPrinting(Frozen):
    """Options of printing: a page for each patient, or one page for the unit."""

    paper: str = "letter"
    language: str = "en"
    for_unit: bool = False
    own_templates: str | None = None
    typesetter: Typesetter = field(default_factory=Typesetter)


def blank_after(results: Results, more: int = 0) -> Blank:
    """The log after a hand-over: its patients with their open matters. The times of the next shift
    are left to fill in.
    """
    handover = results.handover
    return Blank(
        unit=handover.unit,
        more=more,
        before=handover.shift,
        patients=tuple(with_orders_to_come(handover, each) for each in handover.patients),
        name_alerts=handover.name_alerts,
        as_of=handover.as_of,
        still_open={each.id: _still_open(results, each) for each in handover.patients},
    )


def with_orders_to_come(handover: Handover, patient: Patient) -> Patient:
    """The patient with the orders that the next shift needs: those not over when this one ends."""
    periods = handover.periods_of(patient) if patient.order else ()
    needed = [each for each in periods if each.stop is None or each.stop > handover.shift.end]
    if not needed:
        return replace(patient, earlier_orders=())
    orders = [order for each in handover.listings_of(patient) for order in each.patient.orders]
    *earlier, last = (_as_written(each, orders) for each in needed)
    return replace(patient, order=last, earlier_orders=tuple(earlier))


def _as_written(period: Order, orders: Sequence[Order]) -> Order:
    """The order that makes a period: its own start and stop would seem a change where the period's
    are written. Of orders with the same parts the last that has begun, in the latest log.
    """
    same = [
        each
        for each in reversed(orders)
        if each.start <= period.start
        and replace(each, start=period.start, stop=period.stop) == period
    ]
    return max(same, key=lambda each: each.start)


def _still_open(results: Results, patient: Patient) -> StillOpen:
    handover, key = results.handover, patient.id
    if key not in results.measures:  # no order in the stay, and nothing open of it
        return StillOpen()
    measures = results.measures[key]
    since = handover.listings_of(patient)[0].shift.start
    begun = measures.stay_start < since - A_LATE_START
    known = key in handover.from_elsewhere
    return StillOpen(
        matters=results.verdicts[key].open_matters,
        hold=measures.hold,
        waiting=results.verdicts[key].waiting,
        last_entry_at=last_entry_at(handover, patient),
        gaps=handover.gaps.get(key, ()),
        known_since=since if begun and not known else None,
        call_if=results.verdicts[key].call_if,
    )


def produce_blank(
    blanks: Sequence[Blank], printing: BlankPrinting
) -> tuple[dict[str, bytes], list[Finding]]:
    """Every file by its relative name; with several units each has a folder of its own."""
    files: dict[str, bytes] = {}
    findings: list[Finding] = []
    folders = distinct_names("", (blank.unit.name for blank in blanks))
    for blank, folder in zip(blanks, folders, strict=True):
        prefix = f"{folder}/" if len(blanks) > 1 else ""
        files |= {prefix + name: each for name, each in _of_unit(blank, printing).items()}
        findings += letters_lacking(blank.patients, printing.typesetter)
    return files, findings


def _of_unit(blank: Blank, printing: BlankPrinting) -> dict[str, bytes]:
    zone = blank.unit.time_zone
    words = UnitWords(zone, printing.language, printing.own_templates).staff
    pages = compose_patient_blanks(blank, words)
    if printing.for_unit:
        pages = (compose_unit_blank(blank, words),)
    title, paper = words.say("title.blank"), PAPERS[printing.paper]
    document = Document(printing.typesetter, paper, title, words.language)
    return {
        "blank.pdf": draw_blank(pages, document),
        "blank.yaml": starter_yaml(blank, words.say, open_comments(blank, words)),
        "blank.csv": starter_csv(blank),
        "blank.xlsx": starter_xlsx(blank),
    }
