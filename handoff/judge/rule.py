"""A rule is one object: its name, and how it is decided.

Input: a `Case`. Output: a `Verdict` with what was found. A rule has more parts elsewhere: its
limits in `limits.yaml`, its question in `judge.yaml`, its words in the templates.
"""

from collections.abc import Callable
from typing import Generic, TypeVar

from handoff.judge.case import Case
from handoff.limits.reading import Limits, shown
from handoff.model.frozen import Frozen
from handoff.model.verdicts import Verdict
from handoff.model.ward import Done, Doubt
from handoff.model.wording import JUDGE

Case_contra = TypeVar("Case_contra", bound=Case, contravariant=True)


class Rule(Frozen, Generic[Case_contra]):
    """`replaces` are milder rules: they are not printed where this one is met. `about` are the
    log's words that name it in a `told` or `settled` row; without any, only `all` does.
    """

    name: str
    decide: Callable[[Case_contra], Verdict]
    replaces: tuple[str, ...] = ()
    about: tuple[str, ...] = ()

    def question(self, limits: Limits) -> str:
        """The rule's question, with the limits in force."""
        named = limits.rules[self.name].limits
        values = {name: shown(limit.value) for name, limit in named.items()}
        return JUDGE.say(f"asks.{self.name}", **values)


def rows_text(count: int) -> str:
    """So many rows."""
    return JUDGE.say("any.row" if count == 1 else "any.rows", count=count)


def done_text(state: Done) -> str:
    """Whether something is recorded as done; a time says that it is."""
    if isinstance(state, Doubt):
        return JUDGE.say("done.disputed")
    if state is None:
        return JUDGE.say("done.not-recorded")
    return JUDGE.say("done.no" if state is False else "done.yes")
