"""A log to fill in: unit, shift and patients -> the starters `blank.yaml`, `blank.csv`
and `blank.xlsx`.

Input: a `Blank` and the words of its comments. Output: bytes of logs that the checks accept as they
are. Never invents a patient or an entry: an unknown value is left blank. An unknown unit or shift
is the contract's example, which the checks refuse. Open matters of a patient are comments for the
reader, never entries of the new log.
"""

import json
import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from msgspec import field

from handoff.log.fields import EXAMPLES, FIELDS, Field, Kind, Section, fields_of
from handoff.log.new_workbook import workbook_bytes
from handoff.log.spreadsheet import csv_bytes
from handoff.log.written import order_cells, patient_cells, shift_cells, unit_cells
from handoff.model.call_if import CallIf
from handoff.model.frozen import Frozen
from handoff.model.matters import Matter
from handoff.model.measures import Hold
from handoff.model.verdicts import Verdict
from handoff.model.ward import Gap, Order, Patient, Shift, Unit

Say = Callable[..., str]
Comments = Mapping[str, Sequence[str]]  # by patient id

WIDTH = 100  # characters of a line of comment
HINT_AT = 34  # where a hint begins, in characters
ABOVE = ("fill_in", "examples", "not_known", "times", "check")
IDENTITY_ENDS = "bed"  # the last field that says who somebody is
NOT_SHOWN = "\N{REPLACEMENT CHARACTER}"


class StillOpen(Frozen):
    """What the shift before hands over about one patient: the open matters in printing order,
    without those only counted, and the hold in force.

    `waiting` are the cautions that have to settle before the exercise goes on, and `last_entry_at`
    is the time of the patient's last entry. `gaps` are times of the stay that no given log covers.
    `known_since` is the start of the first given log of the stay, where the stay began earlier:
    what was open before it is not known. `call_if` says when to call, None for a patient who is not
    judged.
    """

    matters: tuple[Matter, ...] = ()
    hold: Hold | None = None
    waiting: tuple[Verdict, ...] = ()
    last_entry_at: datetime | None = None
    gaps: tuple[Gap, ...] = ()
    known_since: datetime | None = None
    call_if: CallIf | None = None

    @property
    def holds_back(self) -> bool:
        """True while no page asks for the exercise."""
        return bool(self.hold or self.waiting) or any(each.holds_back for each in self.matters)

    @property
    def is_open(self) -> bool:
        """True where something is open or the exercise is held back."""
        return bool(self.hold or self.waiting or self.matters)


NOTHING_OPEN = StillOpen()


class Blank(Frozen):
    """What is known of a log before it is written.

    `shift` is None where it is to be filled in. `examples` names the unknown fields of unit and
    shift, where the contract's example is written. `before` is the shift whose log lists the
    patients. `name_alerts` gives by patient id the beds of patients with a similar name. `more` is
    the number of further patients to leave room for. `still_open` is what was open at `as_of`, by
    patient id.
    """

    unit: Unit
    more: int
    shift: Shift | None = None
    before: Shift | None = None
    patients: tuple[Patient, ...] = ()
    name_alerts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    as_of: datetime | None = None
    still_open: Mapping[str, StillOpen] = field(default_factory=dict)
    examples: frozenset[str] = frozenset()

    @property
    def charted(self) -> tuple[Patient, ...]:
        """The patients with an order or something open."""
        return tuple(
            patient for patient in self.patients if patient.order or self.open_of(patient).is_open
        )

    def open_of(self, patient: Patient) -> StillOpen:
        """What is open for one patient."""
        return self.still_open.get(patient.id, NOTHING_OPEN)

    @property
    def cells(self) -> dict[str, str]:
        """The cells of the unit and the shift."""
        zone = self.unit.time_zone
        shift = {} if self.shift is None else shift_cells(self.shift, zone)
        examples = {name: EXAMPLES[name] for name in EXAMPLES if name in self.examples}
        return {**unit_cells(self.unit), **shift, **examples}


def starter_csv(blank: Blank) -> bytes:
    """The column names, a row for unit and shift, and one for each known patient."""
    return csv_bytes(list(_columns()), _rows(blank))


def starter_xlsx(blank: Blank) -> bytes:
    """The same table as a workbook, with lists of the words that a field may hold."""
    return workbook_bytes("Log", list(_columns().values()), _rows(blank))


def _columns() -> dict[str, Field]:
    """A field for each column: a patient and an entry have the same id."""
    columns: dict[str, Field] = {}
    for each in FIELDS:
        if each.in_csv:
            columns.setdefault(each.name, each)
    return columns


def _rows(blank: Blank) -> list[dict[str, str]]:
    first = {name: cell for name, cell in blank.cells.items() if name in _columns()}
    zone = blank.unit.time_zone
    rows = [first]
    for each in blank.patients:
        rows.append(patient_cells(each, zone))
        rows += (
            {"patient_id": each.id, **order_cells(order, zone)} for order in each.earlier_orders
        )
    return rows


def starter_yaml(blank: Blank, say: Say, comments: Comments | None = None) -> bytes:
    """All parts of a log, a line for each field. `say` gives the hints. `comments` are on open
    matters, and are written under the patient's identity.
    """
    return ("\n".join(_document(blank, say, comments or {})) + "\n").encode()


def _document(blank: Blank, say: Say, comments: Comments) -> Iterator[str]:
    for name in ABOVE:
        yield from _comment(say(f"blank.starter.{name}", examples=blank.examples))
    for section in (Section.UNIT, Section.SHIFT):
        yield f"\n{section}:"
        yield from _record(section, blank.cells, "  ", say)
    yield f"\n{Section.PATIENT}:"
    if blank.patients:
        yield from _comment(say("blank.starter.carried"))
    zone = blank.unit.time_zone
    known: list[tuple[dict[str, str], Sequence[str], tuple[Order, ...]]] = [
        (patient_cells(each, zone), comments.get(each.id, ()), each.earlier_orders)
        for each in blank.patients
    ]
    for index, (cells, of_one, earlier) in enumerate([*known, *[({}, (), ())] * blank.more]):
        first, *rest = _record(Section.PATIENT, cells, "  ", None if index else say, of_one)
        yield f"- {first[2:]}"
        yield from rest
        if earlier:
            yield "  orders:"
            yield from (f"  - {_order(each, zone)}" for each in earlier)
    yield f"\n{Section.ENTRY}:"
    yield from _comment(say("blank.starter.entry"))
    entry = fields_of(Section.ENTRY)
    for each in entry:
        yield f"#   {each.path:<12} {_hint(each, say)}"
    yield "- {" + ", ".join(f"{each.path}: " for each in entry) + "}"


def _record(
    section: Section,
    cells: Mapping[str, str],
    indent: str,
    say: Say | None,
    comments: Sequence[str] = (),
) -> Iterator[str]:
    """A line for each field, under the name of its group, with its hint where `say` is given.
    Comments come after the patient's identity: nobody takes them for those of the patient before.
    """
    group = ""
    for each in fields_of(section):
        before, _, key = each.path.rpartition(".")
        if before and before != group:
            yield f"{indent}{before}:"
        group = before
        deeper = indent + "  " if before else indent
        line = f"{deeper}{key}: {_scalar(each, cells.get(each.name))}".rstrip()
        yield line if say is None else f"{line:<{HINT_AT}} # {_hint(each, say)}"
        if each.name == IDENTITY_ENDS:
            for words in comments:
                yield from _comment(words, indent)


def _order(order: Order, zone: ZoneInfo) -> str:
    """One order on one line."""
    cells = order_cells(order, zone)
    fields = [each for each in fields_of(Section.PATIENT) if each.name in cells]
    parts = (
        f"{each.path.rpartition('.')[2]}: {_scalar(each, cells[each.name])}" for each in fields
    )
    return "{" + ", ".join(parts) + "}"


def _scalar(of: Field, cell: str | None) -> str:
    """A cell as YAML. Text is in quotation marks, and nothing in it is read as YAML."""
    if cell is None:
        return ""
    return json.dumps(cell, ensure_ascii=False) if of.kind is Kind.TEXT else cell


def _hint(of: Field, say: Say) -> str:
    """What a field means and may hold."""
    about = say(f"blank.about.{of.section}.{of.name}")
    allowed = say(f"blank.allowed.{of.kind.name.lower()}", field=of)
    return f"{about} ({allowed})" if allowed else about


def _comment(words: str, indent: str = "") -> list[str]:
    """Words as comment lines. No character in the words can end a line."""
    shown = "".join(
        letter if letter.isprintable() else NOT_SHOWN for letter in " ".join(words.split())
    )
    mark = f"{indent}# "
    return textwrap.wrap(shown, WIDTH, initial_indent=mark, subsequent_indent=mark)
