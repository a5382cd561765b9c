"""The logs that the options name, read and gathered.

Enters: options. Leaves: `Handover`s and all findings.
"""

from argparse import Namespace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Optional

from handoff.arguments import bounds_of
from handoff.bounds import within
from handoff.check import Options
from handoff.findings import Finding
from handoff.model import Handover
from handoff.reading import read_handovers

if TYPE_CHECKING:
    from concurrent.futures import Executor


def gathered(
    options: Namespace, executor: Optional["Executor"] = None
) -> tuple[tuple[Handover, ...], list[Finding]]:
    """The hand-over of each unit; none where a log cannot be used at all."""
    now = datetime.now(UTC)
    told = Options(options.unit, options.time_zone, options.shift, options.dates, now)
    bounds = bounds_of(options)
    with within(bounds):
        return read_handovers(options.logs, told, options.as_of, bounds, executor)
