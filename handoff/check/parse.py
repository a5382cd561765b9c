"""Parsers of one cell that holds no number: text -> text, word, words, yes or no.

Input: the stripped text of a cell that is not blank, and its field. Output: a value. Raises
`BadCell` with a code and, where it is clear, what was probably meant. Never uses that guess.
"""

import re
import unicodedata
from collections.abc import Callable
from datetime import datetime

from handoff.log.cell import BadCell, Doubtful, hidden_character, read_as
from handoff.log.fields import Field, meant_by, nearest
from handoff.model.wording import FINDINGS

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
_EXTENSION = re.compile(r"(?:(?<![^\W\d])(?:ext(?:ension|n)?|x)|#)\W*\d+", re.IGNORECASE)
# No public phone number has fewer digits: common practice.
LEAST_DIGITS_FROM_HOME = 6

# Texts that name no amount of oxygen and may not mean air. Not every text with `air` is one: a mask
# that mixes in air still gives oxygen.
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
    return shown if shown == written else read_as("unseen", shown, shown)


def oxygen(raw: str, field: Field) -> str | Doubtful[str]:
    """The amount of oxygen and the device, as written; `AIR` where the text means air and nothing
    else. Any other text for none or not known is refused: it would be read as being on oxygen.
    """
    plain = text(raw, field)
    if plain.casefold().rstrip(".") in _NOT_KNOWN:
        raise BadCell("says-nothing")
    if _ON_AIR.fullmatch(plain):
        return read_as("no-amount", FINDINGS.say("read-as.on-air"), AIR)
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


def choice(raw: str, field: Field) -> str | Doubtful[str]:
    """One of the field's words; case, spaces and dashes do not matter."""
    word = re.sub(r"[\s_-]+", "_", raw.casefold())
    known = next((each for each in field.choices if each == word), None)
    if known is not None:
        return known
    meant = _LETTERS.get(field.name, {}).get(word)
    if meant:
        return read_as("letter", meant, meant)
    rest = FINDINGS.say("not-a-choice.rest") if len(raw.split()) > 1 else ""
    raise _not_a_choice(raw.casefold(), field, _likely_choice(word, field), rest)


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
    chest pain`, nothing is read; only what stands before it is probably meant.
    """
    joined = raw.casefold()
    for known in field.choices:
        joined = re.sub(known.replace("_", r"[\s_-]+"), known, joined)
    denies = _DENIES.search(joined) if joined.strip(" .") not in _NOTHING else None
    if denies:
        has_none = _NONE in field.choices
        instead = FINDINGS.say("denied.none" if has_none else "denied.clear")
        before = re.split(r"[;,/\s]+", joined[: denies.start()])
        means = "; ".join(word for word in before if word in field.choices)
        raise BadCell("denied", word=denies[0], instead=instead, means=means)
    parted = [joined] if joined in _NOTHING else re.split(r"[;,/\s]+", joined)
    words = list(filter(None, parted))
    found = tuple(known for known in field.choices if known in words)
    likely = _likely_words(words, field)
    unknown = [word for word in words if word not in field.choices]
    doubts = [_not_a_choice(word, field, likely) for word in unknown]
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


def _not_a_choice(word: str, field: Field, likely: str | None, rest: str = "") -> BadCell:
    if word in _NOTHING:
        is_none = word in _NO and _NONE in field.choices
        likely = _NONE if is_none else FINDINGS.say("not-a-choice.blank")
    choices = ", ".join(field.choices) + rest
    means = nearest(word, field.choices)
    so = FINDINGS.say("not-a-choice.off-form") if field.name == "flow" else ""
    return BadCell("not-a-choice", choices=choices, word=word, so=so, hint=likely, means=means)


def yes_or_no(raw: str, field: Field) -> bool | Doubtful[bool]:
    """Yes or no, which spreadsheets also write as TRUE and FALSE; a tick or an x is yes. Under
    `on_oxygen` an amount of oxygen is yes too, and what means air is no.
    """
    known = _YES_NO.get(raw.casefold())
    if known is not None:
        return known
    if raw.casefold() in _TICKS:
        return read_as("mark", "yes", value=True)
    if field.name == "on_oxygen" and not raw.isdecimal():
        if _ON_AIR.fullmatch(raw):
            return read_as("air", "no", value=False)
        if _AMOUNT.fullmatch(raw) and not _NO_AMOUNT.fullmatch(raw):
            return read_as("amount", "yes", value=True)
    raise BadCell("not-yes-or-no")


def done(
    raw: str, moment: Callable[[str], datetime | Doubtful[datetime]]
) -> bool | datetime | Doubtful[bool] | Doubtful[datetime]:
    """The time at which something was done, or yes, or no."""
    known = True if raw.casefold() in _TICKS else _YES_NO.get(raw.casefold())
    if known is not None:
        return known if raw.casefold() in _YES_NO else read_as("mark", "yes", known)
    if not any(character.isdigit() for character in raw):
        raise BadCell("not-done")
    return moment(raw)
