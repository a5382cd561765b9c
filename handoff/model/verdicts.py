"""What a rule says of one patient's shift: the output of `judge`.

Input: nothing. Output: frozen records. A verdict says what was seen and which limit it was compared
with. It never says what is wrong with the patient.
"""

from abc import abstractmethod
from collections.abc import Callable
from datetime import datetime
from enum import StrEnum

from handoff.model.findings import Place
from handoff.model.frozen import Frozen


class Level(StrEnum):
    """How soon somebody should act; the order is from most to least urgent."""

    ESCALATE = "escalate"  # tell the provider now
    FOLLOW_UP = "follow_up"  # act on it in the next shift
    NOTE = "note"  # never raises the priority


class Priority(StrEnum):
    """The gravest level among a patient's cautions."""

    ESCALATE = "escalate"
    FOLLOW_UP = "follow_up"
    CONTINUE = "continue"


class State(StrEnum):
    """The result of a rule. `UNDECIDED`: something it needs is not recorded."""

    MET = "met"
    NOT_MET = "not_met"
    UNDECIDED = "undecided"


class Told(Frozen):
    """One `told` entry: when, and its note word for word (None when it has none); `named` is False
    where it does not say what it is about.
    """

    at: datetime
    note: str | None
    place: Place
    named: bool = True


# Gives an instant as the unit's local time.
When = Callable[[datetime], str]


class Found(Frozen):
    """What a rule found of one patient, met or not. Each rule has a frozen record of its own; its
    words may use the fields.
    """

    @abstractmethod
    def text(self, when: When, /) -> str:
        """The facts behind the rule's answer, on one line."""


class Verdict(Frozen):
    """One rule applied to one patient, with what it `found`.

    `value` is the worst value (the latest of equals), `at` its time, and `limit` what it was
    compared with, both in `unit`. `entries` and `times` are the rows that met the rule, `led_up`
    those of them that came before it was met. `why` says what is missing for an undecided rule.
    `replaced_by` names the graver rule that is printed instead. `told` holds the `told` entries
    about it, earliest first. While it `holds_back`, no page asks for the exercise.
    """

    rule: str
    level: Level
    state: State
    found: Found
    value: float | str | None = None
    limit: float | str | None = None
    unit: str | None = None
    source: str | None = None
    at: datetime | None = None
    entries: tuple[Place, ...] = ()
    times: tuple[datetime, ...] = ()
    why: str | None = None
    replaced_by: str | None = None
    told: tuple[Told, ...] = ()
    led_up: tuple[tuple[Place, datetime], ...] = ()
    holds_back: bool = False

    @property
    def met(self) -> bool:
        """True when it is met and no graver rule is printed instead."""
        return self.state is State.MET and self.replaced_by is None


# What was seen of a sign that meets a rule: the vital sign's value, or the symptoms charted.
SeenSign = float | tuple[str, ...]


class SignAt(Frozen):
    """A sign for the words of a caution: the rule that it meets, what was seen, and when."""

    rule: str
    seen: SeenSign
    at: datetime


class LaterSign(Frozen):
    """A danger sign of `rule` in a row after `as_of`, which this hand-over does not judge."""

    place: Place
    rule: str
    seen: SeenSign


class UnsureSign(Frozen):
    """One sign of a row that is not known for sure: `name` is its field, `raw` its text, None where
    that can be read, but the row is set aside. `rule` is the one that it may meet, and `seen` what
    it may be; '' and None where it may meet none that escalates.
    """

    place: Place
    name: str
    raw: str | None
    aside: bool
    rule: str = ""
    seen: SeenSign | None = None

    @property
    def followed_as(self) -> str:
        """The vital sign's rule, or the symptom, by which it is followed."""
        return self.seen[0] if isinstance(self.seen, tuple) else self.rule
