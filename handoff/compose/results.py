"""What the stages before compose say of one unit's shift, together.

Input: nothing. Output: the record that every page is composed from.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from handoff.limits.reading import Limits
from handoff.model.changes import Since
from handoff.model.matters import Matter, Verdicts
from handoff.model.measures import Hold, Measures
from handoff.model.ward import Handover


@dataclass(frozen=True, slots=True)
class Results:
    """Measures and verdicts by patient id, of patients with an order, in bed order.

    `since` is None where the logs hold no hand-over before: then nothing is said of changes. `gone`
    are the matters of those who left, and the hold, by patient id; `left_open` what was still open
    when the stay before this one ended, of those whose new stay begins now.
    """

    handover: Handover
    measures: Mapping[str, Measures]
    verdicts: Mapping[str, Verdicts]
    limits: Limits
    since: Since | None = None
    gone: Mapping[str, tuple[tuple[Matter, ...], Hold | None]] = field(default_factory=dict)
    left_open: Mapping[str, tuple[Matter, ...]] = field(default_factory=dict)
