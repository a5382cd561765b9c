"""What a rule says of one patient's shift: the type between `judge` and everything after it.

Input: nothing. Output: frozen records. A verdict says what was seen and against which limit, and
never what is wrong with the patient.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from handoff.model.findings import Place


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
    """What a rule came to. `UNDECIDED`: something it needs is not recorded."""

    MET = "met"
    NOT_MET = "not_met"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Told:
    """One `told` entry: when, and its note word for word (None when it has none); `named` is False
    where it does not say what it is about.
    """

    at: datetime
    note: str | None
    place: Place
    named: bool = True


# Gives an instant as the unit's local time.
When = Callable[[datetime], str]


@dataclass(frozen=True, slots=True)
class Found(ABC):
    """What a rule found of one patient, whether it is met or not: a frozen record of the rule's
    own, whose fields its words may speak of.
    """

    @abstractmethod
    def text(self, when: When, /) -> str:
        """What there is to answer the rule's question with."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """One rule applied to one patient, with what it `found`.

    `value` is the worst reading's (the latest of equals), `at` its time; `limit` the limit it was
    compared with, both in `unit`. `entries` and `times` are the rows that met it. `why` says, for
    an undecided rule, what is missing. `replaced_by` names the graver rule that is printed instead.
    `told` holds the `told` entries that answer it, earliest first.
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

    @property
    def met(self) -> bool:
        """True when it is met and no graver rule is printed instead."""
        return self.state is State.MET and self.replaced_by is None


# What was seen of a sign that meets a rule: the vital sign's value, or the symptoms charted.
SeenSign = float | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SetAsideSign:
    """A danger sign of `rule` that can be read in a row set aside; or, where `later`, in a row of
    after `as_of`, which this hand-over does not judge.
    """

    place: Place
    rule: str
    seen: SeenSign
    later: bool = False
