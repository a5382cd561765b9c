"""Parsers of one cell that holds a number: text -> a number in the field's unit.

Input: the stripped text of a cell that is not blank, and its field. Output: a number. Raises
`BadCell` with a code and, where it is clear, what was probably meant. Never uses that guess.
"""

import re
import unicodedata
from collections.abc import Callable
from functools import partial

from handoff.log.cell import BadCell, Doubtful, outcome_of, read_as
from handoff.log.fields import BY_NAME, ORDER_PARTS, Field, Kind, Section
from handoff.model.wording import FINDINGS

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?", re.ASCII)
_FIRST_NUMBER = re.compile(r"[<>=\u2264\u2265 ]*(\d+(?:\.\d+)?)", re.ASCII)
_WITH_UNIT = re.compile(r"(\d+(?:\.\d+)?)(\D*)", re.ASCII)
_OF_TEN = re.compile(r"(\d+) ?(?:/|of|out of) ?10", re.ASCII | re.IGNORECASE)
_GROUPED = re.compile(r"[1-9]\d{0,2}(?:,\d{3})+(?:\.\d+)?", re.ASCII)
_MARKS = re.compile(r"(?<=\d)[,' \u2019](?=\d{3}(?!\d))", re.ASCII)
_LETTERS_FOR_DIGITS = str.maketrans("OoIl", "0011")

# No bedside device shows a best volume under this. A whole litre is typed as 1.
_LEAST_PLAUSIBLE_ML = 10

# An exercise has fewer breaths than this, and a volume in mL of at least this: common practice.
LEAST_VOLUME_ML = 100

# Numbers typed in another unit: from, to, and their conversion to the field's unit.
_OTHER_UNITS: dict[str, tuple[float, float, Callable[[float], float]]] = {
    "temp_c": (77, 113, lambda fahrenheit: (fahrenheit - 32) / 1.8),
    "height_cm": (1, 2.3, lambda metres: metres * 100),
    "spo2": (0.5, 1, lambda fraction: fraction * 100),
    "spo2_min": (0.5, 1, lambda fraction: fraction * 100),
    "spo2_max": (0.5, 1, lambda fraction: fraction * 100),
    "temp_max": (77, 113, lambda fahrenheit: (fahrenheit - 32) / 1.8),
}

# Other spellings of a unit, which change no number; other units, and what turns them into the own.
_OTHER_SPELLINGS = {
    "mL": ("mls", "cc", "ccm"),
    "%": ("percent", "pct", "%%"),
    "s": ("sec", "secs", "second", "seconds"),
    "a minute": ("/min", "/ min", "per min", "per minute", "bpm", "rpm", "min"),
    "cm": ("cms",),
    "kg": ("kgs", "kilo", "kilos"),
    "\N{DEGREE SIGN}C": ("c", "deg c", "celsius", "degrees", "\N{DEGREE SIGN}"),
    "": ("x", "times", "breaths", "br"),
}
_HOURS = ("h", "hr", "hrs", "hour", "hours", "hourly", "-hourly")
_EVERY = re.compile(r"^(?:q|every)\s*(?=\d)", re.IGNORECASE)
_RANGE = re.compile(r"(\d+(?:\.\d+)?) *(?:[-\u2013\u2014/]|to|or) *(\d+(?:\.\d+)?) *%?", re.ASCII)
_LITRES = ("l", "liter", "liters", "litre", "litres")
_FACTORS: dict[str, dict[str, float]] = {
    "kg": dict.fromkeys(("lb", "lbs", "pound", "pounds"), 0.45359237),
    "cm": {**dict.fromkeys(("in", "inch", "inches", '"'), 2.54), "m": 100},
    "mL": {**dict.fromkeys(_LITRES, 1000), "dl": 100, "cl": 10},
}
_FAHRENHEIT = ("f", "\N{DEGREE SIGN}f", "\N{DEGREE SIGN} f", "fahrenheit")

# A typical value, by field; for any other field the middle of its range.
_EXAMPLES = {
    "breaths": 10,
    "pain": 4,
    "spo2": 94,
    "spo2_min": 92,
    "spo2_max": 96,
    "resp_rate_min": 8,
    "resp_rate_max": 30,
    "pulse_min": 40,
    "pulse_max": 140,
    "temp_max": 39,
    "resp_rate": 16,
    "pulse": 80,
    "temp_c": 37.2,
    "hold_s": 5,
    "order_breaths": 10,
    "order_every_h": 2,
    "order_hold_s": 5,
}


def number(raw: str, field: Field, *, decimal_comma: bool) -> float | int | Doubtful[float | int]:
    """A number within the field's range; whole ones as int. With `decimal_comma` `1,5` is 1.5.

    Two spellings have only one possible meaning. They are read so, as `Doubtful`: the field's own
    unit after the number (`94%`, `1100 mL`), and a comma before three digits that cannot be a
    decimal comma, because the number would be out of the field's range (`1,200` in mL, but not
    `70,500` in kg). All else is refused: a space (`5 900` may be two numbers), a letter, another
    unit (`1.1 L`).
    """
    digits = raw.replace(",", ".", 1) if decimal_comma else raw
    if _NUMBER.fullmatch(digits):
        return _in_range(digits, field)
    what, digits = _otherwise_written(raw, field, decimal_comma=decimal_comma)
    if not _NUMBER.fullmatch(digits):
        as_decimal = raw.replace(",", ".", 1)
        if field.kind is Kind.WHOLE and _NUMBER.fullmatch(as_decimal):
            raise BadCell("not-whole", example=_example(field))
        in_unit = FINDINGS.say("not-a-number.in-unit", unit=field.unit) if field.unit else ""
        words = {"in_unit": in_unit, "example": _example(field), "hint": _meant(raw, field)}
        if field.name in ORDER_PARTS and (instead := _of_range(raw, field)):
            words |= {"or_blank": instead}
        first = _FIRST_NUMBER.match(raw)
        means = first[1] if first and _fits(first[1], field) else None
        raise BadCell("not-a-number", **words, means=words["hint"] or means)
    return read_as(what, digits, _in_range(digits, field))


def _otherwise_written(raw: str, field: Field, *, decimal_comma: bool) -> tuple[str, str]:
    """The key of what is beside the digits and can be left out, and the digits without it."""
    of_ten = _OF_TEN.fullmatch(raw) if field.name == "pain" else None
    if of_ten:
        return "of-ten", of_ten[1]
    unit = re.escape(field.unit).replace("°", "°?")
    with_unit = re.fullmatch(rf"(.*\d)\s*{unit}", raw, re.IGNORECASE)
    bare = with_unit[1] if with_unit else raw
    if decimal_comma:
        return "unit", bare.replace(",", ".", 1)
    as_decimal = bare.replace(",", ".")
    if _GROUPED.fullmatch(bare) and not (
        _NUMBER.fullmatch(as_decimal) and _fits(as_decimal, field)
    ):
        return "thousands", bare.replace(",", "")
    return "unit", bare


def _fits(digits: str, field: Field) -> bool:
    """Whether a number can be one of the field's."""
    value = float(digits)
    return field.low <= value <= field.high and not _looks_like_litres(value, field)


def _looks_like_litres(value: float, field: Field) -> bool:
    return field.unit == "mL" and 0 < value < _LEAST_PLAUSIBLE_ML


def _in_range(digits: str, field: Field) -> float | int:
    value = float(digits)
    if _looks_like_litres(value, field):
        raise BadCell("looks-like-litres", hint=_in_ml(value, field))
    if not field.low <= value <= field.high:
        unit = f" {field.unit}" if field.unit else ""
        hint = _in_own_unit(value, field)
        raise BadCell("out-of-range", low=field.low, high=field.high, unit=unit, hint=hint)
    if field.kind is not Kind.WHOLE:
        return value
    if not value.is_integer():
        raise BadCell("not-whole", example=_example(field))
    return int(value)


def are_exchanged(breaths: str, volume: str, *, decimal_comma: bool) -> bool:
    """Whether each of two texts fits only the other's field."""
    as_volume, as_breaths = (
        outcome_of(
            partial(number, field=BY_NAME[Section.ENTRY, name], decimal_comma=decimal_comma), raw
        )[0]
        for name, raw in (("volume_ml", breaths), ("breaths", volume))
    )
    known = as_volume is not None and as_breaths is not None
    return known and as_breaths < LEAST_VOLUME_ML <= as_volume


def _example(field: Field) -> str:
    usual = 1100 if field.unit == "mL" else (field.low + field.high) // 2
    return f"{_EXAMPLES.get(field.name, usual):g}"


def _meant(raw: str, field: Field) -> str | None:
    """The number that was probably typed: letters for digits, marks between digits, another
    spelling of the unit, or another unit. None with any other word beside it.
    """
    digits = "".join(str(unicodedata.decimal(character, character)) for character in raw)
    if field.name.endswith("_h"):
        digits = _EVERY.sub("", digits)
    joined = _MARKS.sub("", digits)
    for text in (joined.translate(_LETTERS_FOR_DIGITS), joined, digits.replace(",", ".", 1)):
        found = _WITH_UNIT.fullmatch(text)
        if not found:
            continue
        value, unit = float(found[1]), found[2].casefold().strip(" .")
        factor = _FACTORS.get(field.unit, {}).get(unit)
        if factor:
            return _rounded(value * factor, field)
        if unit in _FAHRENHEIT:
            return _in_own_unit(value, field)
        if unit and unit not in _spellings(field):
            continue
        if _fits(found[1], field):
            return found[1]
        likely = _in_ml(value, field) if _looks_like_litres(value, field) else None
        likely = likely or _in_own_unit(value, field)
        if likely:
            return likely
    return None


def _of_range(raw: str, field: Field) -> str | None:
    """How to mend a range in a cell of the order: as two limits where it has both, else by asking
    for the one number.
    """
    found = _RANGE.fullmatch(raw)
    if not found or not all(_fits(each, field) for each in found.groups()):
        return None
    first, last = found.groups()
    both = [field.name[:-4] + end for end in ("_min", "_max")]
    if field.name in both and ORDER_PARTS.keys() >= set(both) and float(first) < float(last):
        names = {"low_name": both[0], "high_name": both[1]}
        return FINDINGS.say("not-a-number.two-limits", low=first, high=last, **names)
    return FINDINGS.say("not-a-number.which", first=first, last=last)


def _spellings(field: Field) -> tuple[str, ...]:
    return _HOURS if field.name.endswith("_h") else _OTHER_SPELLINGS.get(field.unit, ())


def _in_ml(litres: float, field: Field) -> str | None:
    return _rounded(litres * 1000, field)


def _in_own_unit(value: float, field: Field) -> str | None:
    low, high, convert = _OTHER_UNITS.get(field.name, (0, -1, float))
    return _rounded(convert(value), field) if low <= value <= high else None


def _rounded(value: float, field: Field) -> str | None:
    """A converted value as it is typed; None where it is out of the field's range."""
    shown = f"{round(value) if field.unit == 'mL' else round(value, 1):g}"
    return shown if _fits(shown, field) else None
