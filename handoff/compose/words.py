"""The words of the sheets: the templates of one language, found, checked and filled in.

Input: a template's name and the facts it may speak of. Output: one line of finished text. A unit
changes words by giving a folder with files of the same names (`--templates`); a name that a
template uses and that does not exist is an error that names the template, never an empty space.
The only module that knows Jinja2. Text from a log is put in as it is and never read as a template.
"""

import re
import sys
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from copy import copy
from datetime import date, datetime, timedelta
from functools import lru_cache
from importlib.util import cache_from_source
from pathlib import Path
from types import CodeType, MappingProxyType
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from jinja2 import FileSystemBytecodeCache, StrictUndefined, Template, TemplateError
from jinja2.nodes import Impossible
from jinja2.runtime import Context
from jinja2.sandbox import SandboxedEnvironment
from msgspec.structs import replace

from handoff.log import yaml_nodes
from handoff.log.fields import BY_NAME, Section
from handoff.model import rounding
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.measures import (
    BLOCK_H,
    FEWEST_FOR_USUAL,
    FEWEST_POINTS,
    LATELY_H,
    LONGEST_FORECAST_D,
    MOST_AT_A_TIME,
    PREVIOUS_H,
    SHORTEST_SPAN_H,
    TREND_D,
    UNSEEN_UNDER_ML,
    USUAL_H,
    USUAL_SHIFT_H,
)
from handoff.model.refused import Refused
from handoff.model.verdicts import SeenSign, SignAt, UnsureSign
from handoff.model.ward import NOWHERE, Done, Doubt, Order, Patient
from handoff.model.wording import ENGLISH, FINDINGS, shipped_templates

if TYPE_CHECKING:
    from handoff.compose.facts import Facts

OWN_LIMITS = (
    *("spo2_min", "spo2_max", "resp_rate_min", "resp_rate_max", "pulse_min", "pulse_max"),
    "temp_max",
)
NO_BREAK, NARROW_NO_BREAK = "\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}"
_BREAKING_SPACE = re.compile(r"[ \t\r\n]+")
FIRST_STRONG_ISOLATE, POP_ISOLATE = "\u2068", "\u2069"

MOST_NAMED = 4  # times or signs named in one sentence; the rest are counted
MOST_ONE_BY_ONE = 12  # times in a sentence that names each of them

# Numbers of the measures that any words may use: no template holds a number of its own.
PRACTICE: Mapping[str, int] = MappingProxyType(
    {
        "usual_shift_h": USUAL_SHIFT_H,
        "previous_h": PREVIOUS_H,
        "block_h": BLOCK_H,
        "trend_d": TREND_D,
        "fewest_points": FEWEST_POINTS,
        "shortest_span_h": SHORTEST_SPAN_H,
        "longest_forecast_d": LONGEST_FORECAST_D,
        "lately_h": LATELY_H,
        "fewest_for_usual": FEWEST_FOR_USUAL,
        "usual_h": USUAL_H,
        "unseen_under_ml": UNSEEN_UNDER_ML,
        "most_at_a_time": MOST_AT_A_TIME,
        "most_named": MOST_NAMED,
        "most_one_by_one": MOST_ONE_BY_ONE,
    }
)

# Shipped words are compiled once, and kept where Python keeps this module compiled: compiling those
# of one ward's sheets takes as long as drawing ten of them.
KEEPING = FileSystemBytecodeCache(str(Path(cache_from_source(__file__)).parent), "words-%s")


class WordingError(Refused):
    """The templates cannot be used; the finding says which file and how to mend it."""

    why: Finding


class Words:
    """The templates of one language, a unit's own folder before the shipped one.

    Those of the staff stand in the unit's folder itself, or in one of the language's code within
    it; those of another language for patients only there. `staff` are the staff's words beside such
    a language, which must have all that they have of a page.
    """

    def __init__(
        self,
        zone: ZoneInfo,
        language: str = ENGLISH,
        own_folder: str | None = None,
        staff: "Words | None" = None,
    ) -> None:
        self.language = language
        self._zone = zone
        own = Path(own_folder) if own_folder else None
        if own and not own.is_dir():
            reason, place = FINDINGS.say("words-unreadable.no-folder"), Place(str(own))
            raise WordingError(finding("words-unreadable", place, reason=reason))
        folders = [own / language, *([] if staff else [own])] if own else []
        self._folders = [*folders, shipped_templates() / language]
        self._sources: dict[str, tuple[str, Place]] = {}
        self.replaced: dict[str, tuple[str, Place]] = {}  # shipped words that a unit changed
        for file_name in (
            "sheet.yaml",
            "cautions.yaml",
            "discharge.yaml",
            "blank.yaml",
            "lists.yaml",
            "card.yaml",
            "review.yaml",
        ):
            self._sources |= self._read_yaml(file_name)
        if staff:
            self._refuse_missing(staff)
        self.untranslated = self._untranslated(staff) if staff else ()
        self.staff = staff and staff.as_translated(self.untranslated)
        self._months = self._months_named("months")
        self._long_months = self._months_named("language.months")
        self.right_to_left = self._text("language.direction") == "rtl"
        self._signs = self._own_signs()
        self._environment = _environment(isolates=self.right_to_left)
        self._filters = self._filters_by_name()
        self._environment.filters.update(self._filters)
        self._environment.globals.update({**PRACTICE, **self._functions()})
        self._compiled: dict[str, Callable[[Facts | None, Mapping[str, object]], str]] = {}

    def say(self, name: str, facts: "Facts | None" = None, /, **more: object) -> str:
        """The named words, filled in, on one line with single spaces. They may use the fields of
        `facts` and `more`; `more` wins where both have a name.

        Raises `WordingError` where the name is unknown, the template is malformed, or it uses a
        fact that does not exist or is not of the kind that it takes it for.
        """
        try:
            fill = self._compiled.get(name) or self._compile(name)
            return fill(facts, more)
        except (TemplateError, TypeError, ValueError, ArithmeticError, LookupError) as error:
            raise self._fault(name, str(error)) from error

    def isolated(self, text: str) -> str:
        """A text of the log, to stand among these words."""
        return str(isolated(text)) if self.right_to_left else text

    def texts(self) -> Iterator[str]:
        """Every text as it stands in the files of words."""
        return (text for text, _ in self._sources.values())

    def places(self) -> Mapping[str, Place]:
        """Where the words of each name stand."""
        return {name: place for name, (_, place) in self._sources.items()}

    def has(self, name: str) -> bool:
        """True when there are words of this name."""
        return name in self._sources

    def is_checked(self, page: str) -> bool:
        """Whether a clinician who speaks the language has checked the words of a page, which have
        not changed since.

        Raises `WordingError` for a day that is no date.
        """
        block = "language" if page == "discharge" else page
        by = self._text(f"{block}.checked_by")
        checked, changed = self._day(f"{block}.checked_on"), self._day("language.changed_on")
        return bool(by) and checked is not None and (changed is None or changed <= checked)

    def _day(self, name: str) -> date | None:
        """The day that words of this name give; None where they are blank or not there."""
        text = self._text(name)
        try:
            return date.fromisoformat(text) if text else None
        except ValueError as error:
            raise self._fault(name, str(error)) from error

    def sign(self, rule: str, seen: SeenSign) -> str:
        """A sign that meets a rule: `SpO2 84 %`, `faint and chest pain`."""
        return self.say(f"{rule}.sign", seen=seen)

    def unsure_signs(self, signs: Iterable[UnsureSign], *, quotes: bool = True) -> str:
        """A sentence for each sign that is not known for sure, equal ones together and the rarest
        first: a text in every row is a habit, one in a single row a slip. Without `quotes`, no text
        of the log.
        """
        places: dict[UnsureSign, list[str]] = {}
        for each in signs:
            key = replace(each, place=NOWHERE, raw=each.raw if quotes or each.raw is None else "")
            places.setdefault(key, []).append(str(each.place))
        rarest_first = sorted(places.items(), key=lambda of_one: len(of_one[1]))
        return " ".join(
            self.say(
                "said.unsure",
                sign=sign,
                likely="" if sign.seen is None else self.sign(sign.rule, sign.seen),
                places=rows[:MOST_NAMED],
                more=len(rows[MOST_NAMED:]),
            )
            for sign, rows in rarest_first
        )

    def clock(self, instant: datetime) -> str:
        """Local clock time, 24 h: `05:10`; with the zone's letters where the hour occurs twice."""
        local = instant.astimezone(self._zone)
        twice = local.utcoffset() != local.replace(fold=1 - local.fold).utcoffset()
        return local.strftime("%H:%M %Z" if twice else "%H:%M")

    def age(self, seen_at: datetime, last_entry_at: datetime | None) -> str:
        """How much older than the patient's last entry a value is, in whole hours; '' under one."""
        hours = 0 if last_entry_at is None else (last_entry_at - seen_at) // timedelta(hours=1)
        return self.say("said.age", hours=hours) if hours >= 1 else ""

    def when(self, instant: datetime) -> str:
        """Local day and clock time: `6 Mar 05:10`."""
        return f"{self.day(instant.astimezone(self._zone).date())} {self.clock(instant)}"

    def moment(self, instant: datetime, now_from: datetime) -> str:
        """The clock time; with its day where it is before `now_from`."""
        return self.clock(instant) if instant >= now_from else self.when(instant)

    def full_when(self, instant: datetime) -> str:
        """Local day with its year, and clock time: `6 Mar 2026 05:10`."""
        local = instant.astimezone(self._zone)
        return f"{self.full_day(local.date())} {self.clock(instant)}"

    def day(self, day: date) -> str:
        """A day without its year: `6 Mar`."""
        return f"{day.day} {self._months[day.month]}"

    def full_day(self, day: date) -> str:
        """A day with its year: `2 Apr 1958`."""
        return f"{self.day(day)} {day.year}"

    def long_day(self, day: date) -> str:
        """A day with its month in full, as the language writes it: `6 March`."""
        return self._dated("language.day", day)

    def long_full_day(self, day: date) -> str:
        """A day with its month in full and its year: `2 April 1958`."""
        return self._dated("language.full_day", day)

    def _dated(self, name: str, day: date) -> str:
        return self.say(name, day=day.day, month=self._long_months[day.month], year=day.year)

    def bed(self, patient: Patient) -> str:
        """The patient's bed; or that it is disputed, or not recorded."""
        disputed = self.disputed(patient, "bed")
        return patient.bed or self.say("bed_disputed" if disputed else "no_bed", beds=disputed)

    def disputed(self, patient: Patient, name: str) -> str:
        """The different values that a log has of a fact: `1,500 or 1,000 mL`; '' where it is not
        disputed.
        """
        values = patient.disputes(name)
        if not values:
            return ""
        unit = BY_NAME[Section.PATIENT, name].unit
        *before, last = map(self._written, values)
        said = self.say("said.either", before=before, last=last)
        return f"{said} {self.say(f'said.unit.{unit}')}" if unit else said

    def _written(self, value: object) -> str:
        match value:
            case bool():
                return self._done(value)
            case datetime():
                return self.when(value)
            case date():
                return self.full_day(value)
            case tuple():
                return self._listed([str(each) for each in value])
            case float() | int():
                return f"{value:,g}"
        return str(value)

    def _months_named(self, name: str) -> Mapping[int, str]:
        return dict(enumerate(self._text(name).split(), start=1))

    def _text(self, name: str) -> str:
        """The words as they stand in their file; '' where there are none."""
        return self._sources[name][0] if self.has(name) else ""

    def _refuse_missing(self, staff: "Words") -> None:
        """Refuse a language that lacks words of a page of which it has others."""
        pages = {name.partition(".")[0] for name in self._sources}
        for name, place in staff.places().items():
            if name.partition(".")[0] in pages and name not in self._sources:
                at = Place(next(iter(self._sources.values()))[1].file, None, name)
                raise WordingError(
                    finding("missing-words", at, name, name=name, file=Path(place.file).name)
                )

    def _compile(self, name: str) -> "Callable[[Facts | None, Mapping[str, object]], str]":
        if name not in self._sources:
            raise self._fault(name, FINDINGS.say("bad-template.no-such-words"))
        source, place = self._sources[name]
        if "{" not in source:  # most words speak of no fact, and need no template
            said = _on_one_line(source)
            self._compiled[name] = lambda _facts, _more: said
            return self._compiled[name]
        kept_as = f"{self.language}.{name}" if self._is_shipped(place) else None
        code = _compiled(source, tuple(self._filters), kept_as, isolates=self.right_to_left)
        self._compiled[name] = self._filling(code)
        return self._compiled[name]

    def _filling(self, code: CodeType) -> "Callable[[Facts | None, Mapping[str, object]], str]":
        template = Template.from_code(self._environment, code, {})

        def fill(facts: "Facts | None", more: Mapping[str, object]) -> str:
            # Not by `render`, which copies all that is known three times for each sentence.
            context = Context(self._environment, self._environment.globals, None, {})
            context.vars = {**(facts.by_name if facts else {}), **more}
            return _on_one_line(self._environment.concat(template.root_render_func(context)))

        return fill

    def _read_yaml(self, file_name: str) -> dict[str, tuple[str, Place]]:
        """All words of a file by dotted name, own words before shipped ones."""
        sources: dict[str, tuple[str, Place]] = {}
        for folder in reversed(self._folders):
            path = folder / file_name
            if path.is_file():
                own = flatten(path)
                unknown = [name for name in own if name not in sources] if sources else []
                if unknown:
                    name, (_, place) = unknown[0], own[unknown[0]]
                    raise WordingError(finding("unknown-words", place, name, name=name))
                self.replaced |= {name: sources[name] for name in own if name in sources}
                sources |= own
        return sources

    def _untranslated(self, staff: "Words") -> tuple[str, ...]:
        """The words that a unit changed for its staff, and of which the shipped translation is
        used.
        """
        return tuple(
            name
            for name in staff.replaced
            if name in self._sources
            if self._is_shipped(self._sources[name][1])
            if not name.startswith("language.")
        )

    def _is_shipped(self, place: Place) -> bool:
        """Whether the words of a place come with the program."""
        return place.file.startswith(str(self._folders[-1]))

    def as_translated(self, names: Iterable[str]) -> "Words":
        """These words with the shipped ones of these names, so that a translation and the page
        beside it say the same.
        """
        same = copy(self)
        same._sources = self._sources | {name: self.replaced[name] for name in names}  # noqa: SLF001
        same._compiled = {}  # noqa: SLF001
        return same

    def _fault(self, name: str, what: str) -> WordingError:
        place = self._sources.get(name, ("", Place("templates")))[1]
        return WordingError(finding("bad-template", place, name, name=name, problem=what))

    def _filters_by_name(self) -> Mapping[str, Callable[..., str | int]]:
        """The filters by which templates print a number, a time or a word: the only
        list of them.
        """
        return {
            "volume": lambda volume_ml: self._number(rounding.volume(volume_ml)),
            "signed_volume": rounding.signed_volume,
            "slope": lambda slope: self.say("said.slope", slope=slope),
            "percent": rounding.percent,
            "number": lambda number: self._number(rounding.one_decimal(number)),
            "mL": rounding.slope,
            "bare_mL": rounding.bare_slope,
            "term": self._term,
            "at_least": lambda number, at_scale: (
                self.say("said.at_least", number=number) if at_scale else number
            ),
            "clock": self.clock,
            "when": self.when,
            "full_when": self.full_when,
            "day": self.day,
            "full_day": self.full_day,
            "long_day": self.long_day,
            "long_full_day": self.long_full_day,
            # Within a sentence, where an abbreviation keeps its letters.
            "lower": lambda words: words.lower().replace("spo2", "SpO2"),
            "sentence": lambda words: words[:1].upper() + words[1:],
            "shortened": _shortened,
            "closed": closed,
            "file_name": lambda path: Path(path).name,
        }

    def _functions(self) -> Mapping[str, Callable[..., Any]]:
        """The functions for templates: those with more than one argument, or with a choice of
        words.
        """
        return {
            "slope_interval": lambda low, high: self.say("said.interval", low=low, high=high),
            "breaths_of_due": self._breaths_of_due,
            "done": self._done,
            "disputed": self.disputed,
            "amount": lambda patient, order: self.say("said.amount", patient=patient, order=order),
            "own_limits": self._own_limits,
            "differing": self._differing,
            "later": self._later,
            # Facts that are missing, and what is to be done about them.
            "lacks": lambda missing: ", ".join(self._missing("lacks", missing)),
            "steps": lambda missing: self._listed(self._missing("steps", missing)),
            "listed": self._listed,
            "clocks": self._clocks,
            "moment": self.moment,
            "age": self.age,
            "plural": self._plural,
            # On air, on how much oxygen, or not recorded.
            "air": lambda on_oxygen, oxygen: self.say(
                "said.air", on_oxygen=on_oxygen, oxygen=oxygen
            ),
            "signs_listed": self._signs_listed,
            "sign_named": self.sign,
            "unsure_signs": self.unsure_signs,
            # The limit that a vital sign is beyond, and whose it is.
            "compared": lambda bound: self.say("said.compared", bound=bound),
        }

    def later_orders(self, patient: Patient, later: Iterable[tuple[Order, Order]]) -> str:
        """Orders that are still to begin, each given after the one before it: from when, how much,
        and what else is other. '' without any.
        """
        return self.say("later_orders", later=[self._later(patient, *both) for both in later])

    def _later(self, patient: Patient, before: Order, order: Order) -> str:
        return self.say("said.later", patient=patient, order=order, before=before)

    def _differing(self, order: Order, before: Order) -> str:
        """What else than how much is other in an order than in the one before it, in brackets."""
        parts = self.say("said.differing", order=order, before=before)
        return self.say("said.in_brackets", words=parts.replace(", ", "", 1)) if parts else ""

    def _own_limits(self, order: Order, before: Order | None = None) -> list[tuple[str, str]]:
        """The limits of an order, each with its name; after another order, those that differ."""
        limits = [(name, getattr(order, name)) for name in OWN_LIMITS]
        return [
            (name, self.say(f"said.own_limits.{name}", limit=limit))
            for name, limit in limits
            if limit is not None and (before is None or limit != getattr(before, name))
        ]

    def _plural(self, number: float, **forms: str) -> str:
        """The form of a word that goes with a number, by the language's own rule."""
        return forms[self.say("language.plural", n=number)]

    def _own_signs(self) -> Mapping[str, str]:
        """What the language writes otherwise in numbers and volumes than English does."""
        written = {
            ".": self._text("language.decimal_sign"),
            ",": self._text("language.thousands_sign"),
            "mL": self._text("language.milliliters"),
        }
        signs = {english: own for english, own in written.items() if own != english}
        return {**signs, " ": NO_BREAK} if "mL" in signs else signs

    def _number(self, number: str) -> str:
        """A number, or a volume, with the signs of the language."""
        if not self._signs:
            return number
        return re.sub(r"[., ]|mL", lambda sign: self._signs.get(sign[0], sign[0]), number)

    def _term(self, word: str) -> str:
        """A word of the log or of a rule, such as `chest_pain`, in the language of the sheets."""
        return self.say(f"terms.{word}") if self.has(f"terms.{word}") else word

    def _listed(self, words: Sequence[str]) -> str:
        """`a`, `a and b`, `a, b and c`, each word once."""
        *before, last = dict.fromkeys(self._term(str(word)) for word in words)
        return self.say("said.listed", before=before, last=last) if before else last

    def _missing(self, kind: str, missing: Sequence[tuple[str, str]]) -> list[str]:
        """Words of one kind for each missing fact, by its name and state."""
        names = [name for name, _ in missing]
        return [self.say(f"{kind}.{name}", state=state, names=names) for name, state in missing]

    def _breaths_of_due(self, done: float, due: float) -> str:
        shown, of = rounding.breaths_beside_percent(done, due)
        return self.say("said.of_due", done=shown, due=of)

    def _clocks(self, instants: Sequence[datetime], most: int = MOST_NAMED) -> str:
        """Clock times, the latest ones where there are more than `most`."""
        latest = self._listed([self.clock(instant) for instant in instants[-most:]])
        if len(instants) <= most:
            return latest
        return self.say("said.times", count=len(instants), latest=latest)

    def _signs_listed(self, signs: Sequence[SignAt], last_entry_at: datetime | None) -> str:
        """Each sign seen beside, with its time, and the last value with its age; the latest ones
        where there are many.
        """
        shown = signs[-MOST_NAMED:]
        values = [each for each in shown if not isinstance(each.seen, tuple)]
        aged = values[-1] if values else None
        latest = []
        for sign in shown:
            age = self.age(sign.at, last_entry_at) if sign is aged else ""
            own = {"sign": self.sign(sign.rule, sign.seen), "at": sign.at, "age": age}
            latest.append(self.say("said.sign_at", **own))
        more = len(signs) - len(latest)
        return self._listed([*latest, *([self.say("said.more", count=more)] if more else [])])

    def _done(self, state: Done) -> str:
        """'done', 'not done' or 'not recorded': a blank is not a no."""
        if state is None:
            return self.say("done.unknown")
        if isinstance(state, Doubt):
            return self.say("done.disputed")
        return self.say("done.no" if state is False else "done.yes")


def _on_one_line(said: str) -> str:
    has_fixed_space = NO_BREAK in said or NARROW_NO_BREAK in said
    parts = _BREAKING_SPACE.split(said) if has_fixed_space else said.split()
    return " ".join(filter(None, parts))


def _environment(*, isolates: bool) -> SandboxedEnvironment:
    finalize = isolated if isolates else None
    return SandboxedEnvironment(undefined=StrictUndefined, autoescape=False, finalize=finalize)


def isolated(value: object) -> object:
    """A text without a letter that runs from right to left, kept in its own order among such
    letters: else they turn the groups of a phone number around.
    """
    if not isinstance(value, str) or not value.strip():
        return value
    if any(unicodedata.bidirectional(letter) in {"R", "AL"} for letter in value):
        return value
    return f"{FIRST_STRONG_ISOLATE}{value}{POP_ISOLATE}"


@lru_cache(maxsize=1_000)
def _compiled(
    source: str, filters: tuple[str, ...], kept_as: str | None, *, isolates: bool
) -> CodeType:
    """The compiled template, the same for every unit. It depends only on the text and on the
    filters' names: the result of a filter on a constant, such as a unit's own term, is not compiled
    in.

    With a name to keep it as, it is kept for the next start.
    """
    environment = _environment(isolates=isolates)
    environment.filters.update(dict.fromkeys(filters, _not_known_yet))
    if kept_as is None:
        return environment.compile(source)
    kept = KEEPING.get_bucket(environment, f"{kept_as} {isolates}", None, source)
    if kept.code is None:
        kept.code = environment.compile(source)
        if not sys.dont_write_bytecode:
            with suppress(OSError):
                KEEPING.set_bucket(kept)
    return kept.code


def _not_known_yet(*_: object) -> str:
    raise Impossible


def closed(words: str) -> str:
    """The words with a full stop at their end, if they have none of their own."""
    return words if words.endswith((".", "!", "?", "…")) else f"{words}."


def initials_of(name: str) -> str:
    """The first letter of each part of a name: 'Larkspur, Odile' -> 'L. O.' Letters that run from
    right to left are kept together with their full stops, the last one too.
    """
    parts = name.replace(",", " ").replace("-", " ").split()
    initials = " ".join(f"{part[0]}." for part in parts)
    if any(unicodedata.bidirectional(letter) in {"R", "AL"} for letter in initials):
        return f"{FIRST_STRONG_ISOLATE}{initials}{POP_ISOLATE}"
    return initials


def _shortened(words: str, longest: int = 60) -> str:
    return words if len(words) <= longest else words[: longest - 1].rstrip() + "…"


def flatten(path: Path) -> dict[str, tuple[str, Place]]:
    """All words of a file by dotted name, each with its place. Raises `WordingError`."""
    node, findings = yaml_nodes.load_own_file(str(path), "words-unreadable")
    if findings:
        raise WordingError(findings[0])
    words: dict[str, tuple[str, Place]] = {}

    def walk(node: object, prefix: str) -> None:
        if isinstance(node, yaml_nodes.Mapping):
            for key, child in node.values.items():
                walk(child, f"{prefix}.{key}" if prefix else key)
        elif isinstance(node, yaml_nodes.Scalar):
            words[prefix] = (node.text, Place(str(path), node.line, prefix))
        elif isinstance(node, yaml_nodes.Sequence):
            place = Place(str(path), node.line, prefix)
            problem = FINDINGS.say("bad-template.list")
            raise WordingError(finding("bad-template", place, name=prefix, problem=problem))

    walk(node, "")
    return words
