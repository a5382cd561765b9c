"""The results of the stages before `compose`, for one unit's shift.

Input: nothing. Output: the record that every page is composed from.
"""

from collections.abc import Mapping
from functools import cached_property

from msgspec import field

from handoff.compose.facts import Facts, facts_of
from handoff.limits.reading import Limits
from handoff.model.changes import Since
from handoff.model.frozen import Frozen
from handoff.model.matters import Matter, Verdicts
from handoff.model.measures import Hold, Measures
from handoff.model.ward import Handover


class Results(Frozen, dict=True):
    """Measures and verdicts by patient id, for patients with an order, in bed order.

    `since` is None where no log has a hand-over before: the pages then name no changes. `gone` has,
    by patient id, the matters and the hold of those who left. `left_open` has what was still open
    at the end of the stay before, for patients whose new stay begins now.
    """

    handover: Handover
    measures: Mapping[str, Measures]
    verdicts: Mapping[str, Verdicts]
    limits: Limits
    since: Since | None = None
    gone: Mapping[str, tuple[tuple[Matter, ...], Hold | None]] = field(default_factory=dict)
    left_open: Mapping[str, tuple[Matter, ...]] = field(default_factory=dict)

    @cached_property
    def facts(self) -> Mapping[str, Facts]:
        """What the words of every page may speak of, by patient id."""
        return {
            key: facts_of(self.handover, measures, self.verdicts[key], self.limits)
            for key, measures in self.measures.items()
        }
