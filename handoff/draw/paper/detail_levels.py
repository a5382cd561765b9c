"""The parts of a full patient sheet that are cut, and their order.

Input: nothing. Output: `Detail`s, from everything to the least. Escalations, identity, chart,
adherence and foot are in none of them: they are never cut.
"""

from collections.abc import Iterator
from typing import Any

from msgspec.structs import replace

from handoff.draw.paper.blocks import GAP_PT
from handoff.draw.paper.typeface import BODY_PT, SMALL_PT
from handoff.model.frozen import Frozen
from handoff.model.pages import Rank

# Details give way until the chart has the height it wants; on the fullest page it has the least.
LEAST_CHART_PT, WANTED_CHART_PT = 84.0, 120.0


class Detail(Frozen):
    """How much of each part that may be cut is printed.

    None lines means all of a text. Of the cautions that are no escalation, `cautions` less the
    escalations are in full; the rest are counted and named on one line. `numbers` are those of this
    rank or a higher one. `lines_to_write`: one for each escalation that is not told, else one for
    all. `brief`: what is open in a few small lines each, over the whole width, like the
    precautions; the newest answer is whole, unless even that is too much (`brief_lines`). `titles`
    of numbers and cautions. `said_twice`: the paragraphs that say what cautions and next shift say.
    """

    note_lines: int | None = None
    notes: int = 1000
    told_lines: int | None = None
    ticks: int = 5
    tick_lines: int | None = None
    empty_ticks: int = 2
    paragraph_lines: int | None = None
    cautions: int = 5
    numbers: Rank = Rank.MINOR
    lines_to_write: bool = True
    brief: bool = False
    brief_lines: int | None = None
    chart_pt: float = WANTED_CHART_PT
    precautions_pt: float = BODY_PT
    titles: bool = True
    said_twice: bool = True
    gap: float = GAP_PT


# The fields that the cautions depend on.
OF_CAUTIONS = (
    *("cautions", "titles", "lines_to_write", "told_lines"),
    *("brief", "brief_lines", "gap"),
)

STEPS: tuple[dict[str, Any], ...] = (
    {"numbers": Rank.USUAL},
    {"note_lines": 1},
    *({"notes": kept} for kept in (8, 5, 3)),
    {"gap": 4.0},
    {"numbers": Rank.ALWAYS},
    {"told_lines": 2},
    {"notes": 2},
    {"notes": 1},
    *({"ticks": kept} for kept in (4, 3)),
    {"empty_ticks": 1},
    {"paragraph_lines": 2},
    *({"cautions": kept} for kept in (4, 3, 2, 1, 0)),
    {"lines_to_write": False},
    {"gap": 2.0},
    {"brief": True},
    {"paragraph_lines": 1},
    {"tick_lines": 2},
    {"chart_pt": LEAST_CHART_PT},
    {"empty_ticks": 0},
    {"tick_lines": 1},
    {"gap": 1.0},
    {"titles": False},
    {"precautions_pt": SMALL_PT},
    {"said_twice": False},
    {"notes": 0},
    *({"brief_lines": kept} for kept in (4, 3, 2)),
    {"told_lines": 1},
    {"brief_lines": 1},
)


def detail_levels() -> Iterator[Detail]:
    """From everything to the least, one thing less each time."""
    detail = Detail()
    yield detail
    for step in STEPS:
        detail = replace(detail, **step)
        yield detail


def with_more_notes(detail: Detail) -> Iterator[Detail]:
    """The same with more of the notes, from all of them down."""
    for fuller in detail_levels():
        more = replace(detail, notes=fuller.notes, note_lines=fuller.note_lines)
        if more == detail:
            return
        yield more


def with_more_numbers(detail: Detail) -> Iterator[Detail]:
    """The same with more of the numbers, from all of them down."""
    for rank in sorted(Rank, reverse=True):
        if rank is detail.numbers:
            return
        yield replace(detail, numbers=rank)
