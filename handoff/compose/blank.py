"""The pages to write a shift's entries on by hand, in finished words: `Blank` -> `BlankPage`s.

Input: what is known of a log before it is written, and words. Output: a page for each patient, or
one for the unit. Unknown values and examples are left blank to write on. Where something is open or
the exercise is held, the page says so first and coaches nobody.
"""

from collections.abc import Sequence
from datetime import date, datetime
from itertools import pairwise

from msgspec.structs import replace

from handoff.compose.call_if import call_if_words
from handoff.compose.still_open import OpenWords, unit_box
from handoff.compose.words import Words
from handoff.log.blank import Blank
from handoff.log.fields import Field, Kind, Section, fields_of
from handoff.log.written import patient_value
from handoff.model.pages import BlankColumn, BlankPage, BlankRow, Fact
from handoff.model.rounding import one_decimal
from handoff.model.ward import Patient, order_at, periods_of

IDENTITY = ("bed", "name", "patient_id", "born")
KEYS = (Kind.CHOICE, Kind.CHOICES, Kind.YES_NO)
# The word for 'nothing' comes first among the choices of its field.
FIRST_CHOICE = {"symptoms": "none"}
# Parts of few orders: printed where they are known, without a line to write on where not.
SELDOM_ORDERED = (
    *("spo2_max", "resp_rate_min", "resp_rate_max", "pulse_min", "pulse_max", "temp_max"),
    *("usual_symptoms", "comfort_care"),
)


def compose_patient_blanks(blank: Blank, words: Words) -> tuple[BlankPage, ...]:
    """A page for each patient with an order or something open, and for those not yet known; one at
    least, since a PDF without a page cannot be opened.
    """
    patients = (*blank.charted, *[None] * blank.more) or (None,)
    return tuple(_patient_page(blank, patient, words) for patient in patients)


def compose_unit_blank(blank: Blank, words: Words) -> BlankPage:
    """The page of the unit: everything open, a row for each patient with an order or something
    open, and rows to fill in.
    """
    say = words.say
    rows = [
        BlankRow(
            bed=patient.bed,
            name=patient.name,
            id=say("blank.id", id=patient.id),
            alert=_alert(blank, patient, words, "blank.alert"),
            warning=" ".join(
                filter(
                    None, [OpenWords(blank, patient, words).warning, _later(blank, patient, words)]
                )
            ),
            call_if=_call_if(blank, patient, words),
        )
        for patient in blank.charted
    ]
    columns = [_column("bed", words), _column("patient_id", words), *_columns(words)]
    unknown = (OpenWords(blank, patient, words).unknown for patient in blank.charted)
    return replace(
        _page(blank, words, "unit", columns),
        rows=tuple(rows),
        unknown=" ".join(dict.fromkeys(filter(None, unknown))),
        still_open=unit_box(blank, words),
    )


def _patient_page(blank: Blank, patient: Patient | None, words: Words) -> BlankPage:
    """The page of a patient, with the order in force when the shift before ends; of a patient not
    yet known, all is left blank.
    """
    now = patient and _with_order_in_force(blank, patient)
    fields = {field.name: field for field in fields_of(Section.PATIENT)}
    page = replace(
        _page(blank, words, "patient", _columns(words)),
        bookmark=words.say("bookmark", bed=words.bed(patient)) if patient else "",
        identity=tuple(_fact(fields.pop(name), now, words) for name in IDENTITY),
        precautions=(_fact(fields.pop("precautions"), now, words),),
        facts=tuple(
            fact
            for field in fields.values()
            if (fact := _fact(field, now, words)).value or field.name not in SELDOM_ORDERED
        ),
    )
    if patient is None:
        return page
    known = OpenWords(blank, patient, words)
    if known.open.holds_back:
        page = replace(page, standing=words.say("blank.open.standing", unit=blank.unit))
    alert = _alert(blank, patient, words, "name_alert")
    return replace(
        page,
        alert=alert,
        later=_later(blank, patient, words),
        unknown=known.unknown,
        still_open=known.box,
        call_if=_call_if(blank, patient, words),
    )


def _with_order_in_force(blank: Blank, patient: Patient) -> Patient:
    if not patient.orders or blank.before is None:
        return patient
    in_force = order_at(periods_of(patient.orders), blank.before.end)
    return replace(patient, order=in_force, earlier_orders=())


def _later(blank: Blank, patient: Patient, words: Words) -> str:
    """The orders that begin after the shift before; '' without any."""
    if blank.before is None:
        return ""
    ends = blank.before.end
    both = pairwise(periods_of(patient.orders))
    return words.later_orders(patient, [each for each in both if each[1].start > ends])


def _call_if(blank: Blank, patient: Patient, words: Words) -> Fact | None:
    call = blank.open_of(patient).call_if
    return None if call is None else call_if_words(call, words)


def _alert(blank: Blank, patient: Patient, words: Words, name: str) -> str:
    """That the patient is a child, that comfort care is ordered, that another has a similar name
    (in the words called `name`); '' for none of these.
    """
    shift, beds = blank.shift or blank.before, blank.name_alerts.get(patient.id)
    order = _with_order_in_force(blank, patient).order
    judged = words.say(
        "judged_briefly",
        comfort_since=order is not None and order.comfort_care,
        is_child=shift is not None and patient.is_child_in(shift, blank.unit),
    )
    return f"{judged} {words.say(name, beds=beds) if beds else ''}".strip()


def _page(blank: Blank, words: Words, kind: str, columns: Sequence[BlankColumn]) -> BlankPage:
    """The parts of every page to write on; `kind` is `patient` or `unit`."""
    return BlankPage(
        title=words.say(f"blank.title.{kind}"),
        carried=words.say("blank.carried", before=blank.before),
        head=_head(blank, words),
        key=_key(words),
        standing=words.say("standing.caution", unit=blank.unit),
        page_words=words.say("page"),
        tick_box=words.say("headings.tick_box"),
        columns=tuple(columns),
    )


def _head(blank: Blank, words: Words) -> tuple[Fact, ...]:
    """Unit, shift and its nurses."""
    cells = {name: cell for name, cell in blank.cells.items() if name not in blank.examples}
    shift = blank.shift if cells.keys() >= {"shift_start", "shift_end"} else None
    values = {
        "unit": cells.get("unit", ""),
        "shift": "" if shift is None else words.say("shift", shift=shift),
        "outgoing": cells.get("outgoing", ""),
        "incoming": cells.get("incoming", ""),
    }
    return tuple(Fact(words.say(f"blank.label.{name}"), value) for name, value in values.items())


def _fact(field: Field, patient: Patient | None, words: Words) -> Fact:
    value = None if patient is None else patient_value(patient, field)
    return Fact(words.say(f"blank.label.{field.name}"), _value(value, words))


def _value(value: object, words: Words) -> str:
    """A recorded value as it is printed; '' where it is to be written."""
    match value:
        case bool():
            return words.say(f"blank.{'yes' if value else 'no'}")
        case int() | float():
            return one_decimal(value)
        case datetime():
            return words.full_when(value)
        case date():
            return words.full_day(value)
        case tuple():
            return ", ".join(words.say(f"terms.{each}") for each in value)
    return "" if value is None else str(value)


def _columns(words: Words) -> list[BlankColumn]:
    """One column for each field of an entry, without the patient."""
    names = (field.name for field in fields_of(Section.ENTRY) if field.name != "patient_id")
    return [_column(name, words) for name in names]


def _column(name: str, words: Words) -> BlankColumn:
    box = words.say("terms.none") if name == "symptoms" else ""
    return BlankColumn(name, words.say(f"blank.column.{name}"), box)


def _key(words: Words) -> tuple[str, ...]:
    """The words that may be written in columns of choices, and the meaning of a blank."""
    fields = [field for field in fields_of(Section.ENTRY) if field.kind in KEYS]
    lines = (_choices(field, words) for field in fields)
    return (*lines, words.say("blank.key.times"), words.say("blank.key.blank"))


def _choices(field: Field, words: Words) -> str:
    first = FIRST_CHOICE.get(field.name, "")
    return words.say(
        "blank.key.choices",
        column=_column(field.name, words).title,
        field=field,
        first=first,
        words=[each for each in field.choices if each != first],
    )
