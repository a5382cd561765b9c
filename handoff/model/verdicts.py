"""What a rule says of one patient's shift: the type between `judge` and everything after it.

Input: nothing. Output: frozen records. A verdict says what was seen and against which limit, and
never what is wrong with the patient.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
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


@dataclass(frozen=True, slots=True)
class Verdict:
    """One rule applied to one patient.

    `value` is the worst reading's (the latest of equals), `at` its time; `limit` the limit it was
    compared with, both in `unit`. `entries` and `times` are the rows that met it. `detail` holds
    the further facts that its words need, by name. `why` says, for an undecided rule, what is
    missing; `missing` in its `detail` names the vital signs among it.
    `replaced_by` names the graver rule that stands in its place. `told` holds the `told` entries
    that answer it, earliest first.
    """

    rule: str
    level: Level
    state: State
    value: float | str | None = None
    limit: float | str | None = None
    unit: str | None = None
    source: str | None = None
    at: datetime | None = None
    entries: tuple[Place, ...] = ()
    times: tuple[datetime, ...] = ()
    detail: Mapping[str, object] = field(default_factory=dict)
    why: str | None = None
    replaced_by: str | None = None
    told: tuple[Told, ...] = ()

    @property
    def met(self) -> bool:
        """True when it is met and no graver rule stands in its place: it is printed."""
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
