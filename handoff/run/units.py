"""One unit's logs, kept small until its turn comes: `UnitLogs` -> `Handover`.

Input: checked logs by unit. Output: its hand-over, gathered anew at each call: of many units only
one at a time takes memory. Logs are kept packed in memory, at about a thirtieth of their size. They
are never written to a disk: they tell of patients.
"""

import pickle
import zlib
from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Generic, TypeVar

from handoff.gather import gather_unit, gather_ward, in_file_order
from handoff.gather.presence import Ward
from handoff.judge.doubts import with_doubts
from handoff.limits.reading import Limits
from handoff.model.findings import Finding
from handoff.model.frozen import Frozen
from handoff.model.ward import Handover, Log

Content = TypeVar("Content")
Kept = TypeVar("Kept")

QUICK = 1  # of zlib: little larger than at the best level, in a fraction of the time


class Packed(Frozen, Generic[Content]):
    """Content in packed form, which takes little memory."""

    packed: bytes

    def unpack(self) -> Content:
        """A new copy of the content."""
        # Made by `pack` in this run, here or by one of its workers.
        content: Content = pickle.loads(zlib.decompress(self.packed))  # noqa: S301
        return content


def whole(kept: Content | Packed[Content]) -> Content:
    """The content, unpacked if it is packed."""
    return kept.unpack() if isinstance(kept, Packed) else kept


def pack(content: Content) -> Packed[Content]:
    """Anything that can be pickled, packed."""
    return Packed(zlib.compress(pickle.dumps(content, pickle.HIGHEST_PROTOCOL), QUICK))


class Gathered(Frozen):
    """A unit's hand-over, None where it has none; the findings of its logs and of gathering; and
    the findings on rows about a danger, which are among the hand-over's own too.
    """

    handover: Handover | None
    findings: list[Finding]
    doubts: list[Finding]


class UnitLogs(Frozen):
    """The input of one unit's hand-over.

    `others` are the wards of other units that list one of its patients, with only the patients whom
    several units list. `as_of` and `now` as for `gather`.
    """

    logs: tuple[Log | Packed[Log], ...]
    others: tuple[Packed[Ward], ...]
    as_of: str | None
    now: datetime

    @property
    def name(self) -> str:
        """The unit's name, as one of its logs writes it."""
        return whole(self.logs[-1]).unit.name

    def ward(self) -> Ward:
        """The ward of its own logs."""
        return gather_ward([whole(each) for each in self.logs], self.as_of, self.now)

    def hand_over(self, limits: Limits) -> Handover:
        """The hand-over; only for a unit that has one."""
        handover = self.gather(limits).handover
        if handover is None:
            raise ValueError("the unit has no hand-over")
        return handover

    def gather(self, limits: Limits | None = None) -> Gathered:
        """The hand-over and its findings; with `limits`, also those on rows about a danger."""
        others = [each.unpack() for each in self.others]
        handover, findings = gather_unit(self.ward(), others, self.as_of, self.now)
        if handover is None or limits is None:
            return Gathered(handover, findings, [])
        handover, doubts = with_doubts(handover, limits)
        return Gathered(handover, findings, doubts)


def gather_units(
    units: Iterable[UnitLogs],
    keep: Callable[[UnitLogs, Handover], Kept],
    limits: Limits | None = None,
) -> tuple[list[Kept], list[Finding], list[Finding]]:
    """The results of `keep` for each unit and hand-over, and the findings and doubts of all units.

    Everything else of a unit is forgotten before the next one is gathered.
    """
    kept: list[Kept] = []
    findings: list[Finding] = []
    doubts: list[Finding] = []
    for unit in units:
        gathered = unit.gather(limits)
        kept += [keep(unit, gathered.handover)] if gathered.handover else []
        findings += gathered.findings
        doubts += gathered.doubts
    return kept, list(in_file_order(findings)), doubts
