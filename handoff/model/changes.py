"""What changed since the hand-over before: the type between `since` and what prints it.

Input: nothing. Output: frozen records of plain facts, no words.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from handoff.model.matters import Matter
from handoff.model.ward import Patient


@dataclass(frozen=True, slots=True)
class OrderChanges:
    """New: there was none; withdrawn: there is none any more; `changed` names fields that differ.

    A stop that has come is `stopped`, and no other change.
    """

    new: bool = False
    withdrawn: bool = False
    stopped: bool = False
    changed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Changes:
    """What is new of one patient; nothing is where all of it is empty.

    `opened` are the matters that opened since then, `closed` those of earlier that are told and
    settled since. What was not looked at again is in neither. `held_at` and `lifted_at` are the
    last row since then that holds the exercise, or that ends a hold.
    """

    new_on_list: bool = False
    moved_from: str | None = None
    order: OrderChanges = OrderChanges()
    opened: tuple[Matter, ...] = ()
    closed: tuple[Matter, ...] = ()
    precautions: bool = False
    held_at: datetime | None = None
    lifted_at: datetime | None = None
    first_reading: bool = False
    goal_reached: bool = False

    @property
    def nothing(self) -> bool:
        """True when there is nothing to say."""
        return self == Changes()


@dataclass(frozen=True, slots=True)
class Since:
    """What changed on a unit since the hand-over before, which was made at `at`.

    `patients` holds every patient of the list by id; `gone` are those who were on the list then, or
    came since, and are not on it now.
    """

    at: datetime
    patients: Mapping[str, Changes]
    gone: tuple[Patient, ...]
