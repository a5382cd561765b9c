"""Parsers of one cell: text -> number, word, words, yes or no.

Input: the stripped text of a cell that is not blank, and its field. Output: a value. Raises
`BadCell` with a code and, where it is clear, what was probably meant. Never uses that guess.
"""

import re
import unicodedata
from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import TypeVar

from handoff.log.cell import READ_AS, BadCell, Doubtful, hidden_character, outcome_of
from handoff.log.fields import BY_NAME, Field, Kind, Section, meant_by, nearest

T = TypeVar("T")

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?", re.ASCII)
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
    "order_every_h": 1,
    "order_hold_s": 5,
}

# Where a blank cell is meant; `choice` reads a dash as the line between two words.
_NO = frozenset({"no", "nil", "0"})
_NOTHING = _NO | {"none", "-", "_", "n/a", "na"}

# Of symptoms: asked, and none.
_NONE = "none"

# Texts that mean air and nothing else (common practice): 21 % is air, and a flow of 0 is no oxygen.
AIR = "air"
_ON_AIR = re.compile(
    r"(?:on |breathing )?(?:room[ -]?)?air|r[./]?a\.?|no|none|nil|off|0+ ?(?:l(?:/min|pm)?)?|21 ?%",
    re.ASCII | re.IGNORECASE,
)
# Texts that name no amount of oxygen and may not mean air. Not every text with `air` is one: a mask
# that mixes in air still gives oxygen.
_EXTENSION = re.compile(r"(?:(?<![^\W\d])(?:ext(?:ension|n)?|x)|#)\W*\d+", re.IGNORECASE)
# No public phone number has fewer digits: common practice.
LEAST_DIGITS_FROM_HOME = 6
_NO_AMOUNT = re.compile(
    r"(?:on )?air|(?:no|none|nil|off|without|not)\b.*|.*\broom[ -]?air\b.*|.*\br\.?a\b.*"
    r"|0+(?:[.,]0+)?(?![\d.,]).*|21 ?%",
    re.ASCII | re.IGNORECASE,
)
_AMOUNT = re.compile(r"\d+(?:[.,]\d+)? ?(?:l|lit(?:er|re)s?|lpm|%)\b.*|\d+ ?%", re.IGNORECASE)
_NOT_KNOWN = frozenset({"n/a", "na", "nk", "unknown", "not known", "not recorded", "not measured"})

# What a spreadsheet shows instead of a value, and what it makes of ids and beds.
_ERROR_VALUE = re.compile(
    r"#(?:N/A|REF!|VALUE!|NAME\?|DIV/0!|NULL!|NUM!|SPILL!|CALC!|BLOCKED!)|#{3,}", re.IGNORECASE
)
_SHORTENED = re.compile(r"\d(?:[.,]\d+)?E[+-]\d+", re.ASCII | re.IGNORECASE)
_WITH_DECIMALS = re.compile(r"(\d+)[.,]0+", re.ASCII)
_MONTH = "(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)"
_LIKE_A_DATE = re.compile(
    rf"\d{{1,2}}[-. ]{_MONTH}(?:[-. ]\d{{2,4}})?|{_MONTH}[-. ]\d{{1,4}}|4\d{{4}}"
    r"|\d{4}([/.-])\d{1,2}\1\d{1,2}|\d{1,2}([/.-])\d{1,2}\2\d{4}",
    re.ASCII,
)

# Words that deny what stands beside them; which word that is, cannot be told for sure.
_DENIES = re.compile(
    r"\b(?:no|not|nor|non|never|without|den(?:y|ies|ied|ying)|neg(?:ative)?|absent|nil|free|0)\b"
    r"|\bw/o\b|\w+n['\u2019]t\b|\u00f8"
)

# Texts that mean 'as in the row above'.
DITTO = frozenset({"ditto", "do", "idem", "same", "as above"})

_YES_NO = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
_TICKS = frozenset({"x", "\u2713", "\u2714", "\u2611", "\u221a"})

# One letter for a choice, by field.
_LETTERS = {"sex": {"m": "male", "f": "female"}}


def _read_as(what: str, read: object, value: T) -> Doubtful[T]:
    """A value that can be meant in one way only, though it is written in another."""
    return Doubtful(value, (BadCell(READ_AS, what=what, read=read),))


def is_error_value(raw: str) -> bool:
    """Whether a spreadsheet put an error here instead of a value, such as `#REF!`."""
    return raw.startswith("#") and bool(_ERROR_VALUE.fullmatch(raw))


def text(raw: str, field: Field) -> str:
    """Text with single spaces; only a note keeps its line ends, and may be a mark or a 'ditto'."""
    if field.name == "note" and not raw.isprintable():
        plain = "\n".join(" ".join(line.split()) for line in raw.splitlines())
    else:
        plain = " ".join(raw.split())
    if len(plain) > field.longest:
        raise BadCell("too-long", longest=field.longest, length=len(plain))
    hidden = hidden_character(plain.replace("\n", ""))
    if hidden:
        raise BadCell("bad-character", character=hidden)
    says_something = any(map(str.isalnum, plain)) and plain.casefold().strip(". ") not in DITTO
    if field.name != "note" and not says_something:
        raise BadCell("says-nothing")
    return plain


def identifier(raw: str, field: Field) -> str | Doubtful[str]:
    """An id or a bed, unless a spreadsheet has spoiled it; characters without width are left out.
    A date as a bed may be a bed's name: it is used, with a warning.
    """
    written = text(raw, field)
    shown = "".join(each for each in written if unicodedata.category(each) != "Cf")
    whole = _WITH_DECIMALS.fullmatch(shown)
    if whole or _SHORTENED.fullmatch(shown):
        raise BadCell("spoiled-by-spreadsheet", hint=whole and whole[1])
    if field.name == "bed" and _LIKE_A_DATE.fullmatch(shown):
        return Doubtful(shown, (BadCell("bed-like-a-date"),))
    return shown if shown == written else _read_as("a character that cannot be seen", shown, shown)


def oxygen(raw: str, field: Field) -> str | Doubtful[str]:
    """The amount of oxygen and the device, as written; `AIR` where the text means air and nothing
    else. Any other text for none or not known is refused: it would be read as being on oxygen.
    """
    plain = text(raw, field)
    if plain.casefold().rstrip(".") in _NOT_KNOWN:
        raise BadCell("says-nothing")
    if _ON_AIR.fullmatch(plain):
        return _read_as("no amount of oxygen", "no under on_oxygen", AIR)
    if _NO_AMOUNT.fullmatch(plain):
        raise BadCell("oxygen-is-none")
    return plain


def home_phone(raw: str, field: Field) -> str:
    """A phone number as written; refused where it is an extension alone or no whole number."""
    plain = text(raw, field)
    numbers = re.findall(r"\d[\d .()\u2010-\u2015-]*", _EXTENSION.sub("", plain))
    if all(sum(map(str.isdigit, each)) < LEAST_DIGITS_FROM_HOME for each in numbers):
        raise BadCell("inner-number")
    return plain


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
        in_unit = f" in {field.unit}" if field.unit else ""
        example = _example(field)
        raise BadCell("not-a-number", in_unit=in_unit, example=example, hint=_meant(raw, field))
    return _read_as(what, digits, _in_range(digits, field))


def _otherwise_written(raw: str, field: Field, *, decimal_comma: bool) -> tuple[str, str]:
    """The text beside the digits that can be left out, and the digits without it."""
    of_ten = _OF_TEN.fullmatch(raw) if field.name == "pain" else None
    if of_ten:
        return "the scale, of 10,", of_ten[1]
    unit = re.escape(field.unit).replace("°", "°?")
    with_unit = re.fullmatch(rf"(.*\d)\s*{unit}", raw, re.IGNORECASE)
    bare = with_unit[1] if with_unit else raw
    if decimal_comma:
        return "a unit", bare.replace(",", ".", 1)
    as_decimal = bare.replace(",", ".")
    if _GROUPED.fullmatch(bare) and not (
        _NUMBER.fullmatch(as_decimal) and _fits(as_decimal, field)
    ):
        return "a comma between thousands", bare.replace(",", "")
    return "a unit", bare


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
        if unit and unit not in _OTHER_SPELLINGS.get(field.unit, ""):
            continue
        if _fits(found[1], field):
            return found[1]
        likely = _in_ml(value, field) if _looks_like_litres(value, field) else None
        likely = likely or _in_own_unit(value, field)
        if likely:
            return likely
    return None


def _in_ml(litres: float, field: Field) -> str | None:
    return _rounded(litres * 1000, field)


def _in_own_unit(value: float, field: Field) -> str | None:
    low, high, convert = _OTHER_UNITS.get(field.name, (0, -1, float))
    return _rounded(convert(value), field) if low <= value <= high else None


def _rounded(value: float, field: Field) -> str | None:
    """A converted value as it is typed; None where it is out of the field's range."""
    shown = f"{round(value) if field.unit == 'mL' else round(value, 1):g}"
    return shown if _fits(shown, field) else None


def choice(raw: str, field: Field) -> str | Doubtful[str]:
    """One of the field's words; case, spaces and dashes do not matter."""
    word = re.sub(r"[\s_-]+", "_", raw.casefold())
    known = next((each for each in field.choices if each == word), None)
    if known is not None:
        return known
    meant = _LETTERS.get(field.name, {}).get(word)
    if meant:
        return _read_as("one letter", meant, meant)
    raise _not_a_choice(word, field, _likely_choice(word, field))


def _likely_choice(word: str, field: Field) -> str | None:
    """The choice that a text means; none where it denies something or may mean several."""
    parts = re.split(r"[^\w]+|_", word)
    sure = {name for part in parts for name in meant_by(part, field.choices)}
    if _DENIES.search(word.replace("_", " ")) or len(sure) > 1:
        return None
    return sure.pop() if sure else nearest(word, field.choices)


def choices(raw: str, field: Field) -> tuple[str, ...] | Doubtful[tuple[str, ...]]:
    """The field's words in a cell, in the contract's order, separated by `;`, `,`, `/` or spaces.
    An unknown word is lost alone: one typing slip does not hide the words beside it. `none` beside
    another word is not read: it would deny that word. Where a word denies something, as in `denies
    chest pain`, nothing is read.
    """
    joined = raw.casefold()
    denies = _DENIES.search(joined) if joined.strip(" .") not in _NOTHING else None
    if denies:
        has_none = _NONE in field.choices
        instead = "type none if the patient was asked and has none" if has_none else "clear it"
        raise BadCell("denied", word=denies[0], instead=instead)
    for known in field.choices:
        joined = re.sub(known.replace("_", r"[\s_-]+"), known, joined)
    parted = [joined] if joined in _NOTHING else re.split(r"[;,/\s]+", joined)
    words = list(filter(None, parted))
    found = tuple(known for known in field.choices if known in words)
    likely = _likely_words(words, field)
    doubts = [_not_a_choice(word, field, likely) for word in words if word not in field.choices]
    if _NONE in found and set(words) != {_NONE}:
        found = tuple(known for known in found if known != _NONE)
        doubts.append(BadCell("none-and-more"))
    return Doubtful(found, tuple(doubts)) if doubts else found


def _likely_words(words: list[str], field: Field) -> str | None:
    """The whole cell that was probably meant; none where one of its words has no likely one."""
    meant = [word if word in field.choices else nearest(word, field.choices) for word in words]
    if None in meant or (_NONE in meant and len(set(meant)) > 1):
        return None
    return "; ".join(filter(None, dict.fromkeys(meant)))


def _not_a_choice(word: str, field: Field, likely: str | None) -> BadCell:
    if word in _NOTHING:
        likely = _NONE if word in _NO and _NONE in field.choices else "a blank cell"
    return BadCell("not-a-choice", choices=", ".join(field.choices), word=word, hint=likely)


def yes_or_no(raw: str, field: Field) -> bool | Doubtful[bool]:
    """Yes or no, which spreadsheets also write as TRUE and FALSE; a tick or an x is yes. Under
    `on_oxygen` an amount of oxygen is yes too, and what means air is no.
    """
    known = _YES_NO.get(raw.casefold())
    if known is not None:
        return known
    if raw.casefold() in _TICKS:
        return _read_as("a mark", "yes", value=True)
    if field.name == "on_oxygen" and not raw.isdecimal():
        if _ON_AIR.fullmatch(raw):
            return _read_as("air", "no", value=False)
        if _AMOUNT.fullmatch(raw) and not _NO_AMOUNT.fullmatch(raw):
            return _read_as("an amount of oxygen", "yes", value=True)
    raise BadCell("not-yes-or-no")


def done(
    raw: str, moment: Callable[[str], datetime | Doubtful[datetime]]
) -> bool | datetime | Doubtful[bool] | Doubtful[datetime]:
    """The time at which something was done, or yes, or no."""
    known = True if raw.casefold() in _TICKS else _YES_NO.get(raw.casefold())
    if known is not None:
        return known if raw.casefold() in _YES_NO else _read_as("a mark", "yes", known)
    if not any(character.isdigit() for character in raw):
        raise BadCell("not-done")
    return moment(raw)
