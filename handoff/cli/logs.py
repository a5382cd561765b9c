"""The logs that the options name, read and gathered.

Input: options. Output: `Handover`s and all findings.
"""

from argparse import Namespace
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Optional

from handoff.check import Options
from handoff.cli.arguments import bounds_of
from handoff.judge.doubts import with_doubts
from handoff.limits.reading import Limits
from handoff.model.bounds import within
from handoff.model.findings import Finding
from handoff.model.ward import Handover
from handoff.run.handovers import read_handovers

if TYPE_CHECKING:
    from concurrent.futures import Executor


def gathered(
    options: Namespace, executor: Optional["Executor"] = None
) -> tuple[tuple[Handover, ...], list[Finding]]:
    """The hand-over of each unit; none where a log cannot be used at all."""
    now = datetime.now(UTC)
    check_options = Options(options.unit, options.time_zone, options.shift, options.dates, now)
    bounds = bounds_of(options)
    with within(bounds):
        return read_handovers(options.logs, check_options, options.as_of, bounds, executor)


def doubted(
    handovers: Sequence[Handover], limits: Limits | None
) -> tuple[tuple[Handover, ...], list[Finding]]:
    """The hand-overs with what is found of rows about a danger, by these limits; and that alone."""
    if limits is None:
        return tuple(handovers), []
    both = [with_doubts(each, limits) for each in handovers]
    return tuple(each for each, _ in both), [found for _, of_one in both for found in of_one]
