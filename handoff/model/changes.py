"""What changed since the hand-over before: made by `judge.since`, printed by `compose`.

Input: nothing. Output: frozen records of plain facts, no words.
"""

from collections.abc import Mapping
from datetime import datetime

from handoff.model.frozen import Frozen
from handoff.model.matters import Matter
from handoff.model.ward import Patient


class OrderChanges(Frozen):
    """How the order changed. `new`: there was none. `withdrawn`: there is none now. `changed` names
    the fields that differ.

    An order that reached its stop is `stopped`, and not `changed`.
    """

    new: bool = False
    withdrawn: bool = False
    stopped: bool = False
    changed: tuple[str, ...] = ()


class Changes(Frozen):
    """What changed for one patient.

    `opened` are the matters that opened since the hand-over before. `closed` are older matters that
    were told and settled since. A danger that nobody looked at again is in neither. `held_at` is
    the time of the last row since then that holds the exercise, `lifted_at` of the last that ends a
    hold.
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
        """True when nothing changed."""
        return self == Changes()


class Since(Frozen):
    """What changed on a unit since the hand-over before, which was made at `at`.

    `patients` holds every patient on the list, by id. `gone` are those who were on the list then,
    or came since, and are not on it now.
    """

    at: datetime
    patients: Mapping[str, Changes]
    gone: tuple[Patient, ...]
