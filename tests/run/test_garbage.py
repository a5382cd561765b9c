"""What a unit leaves behind is gone before the next, so that a region takes no more than a ward."""

import gc
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from handoff.compose.words import Words
from handoff.limits.reading import load_limits
from handoff.run.handovers import read_units
from handoff.run.sheets import Printing, produce
from tests.benchmarks.region import write_region
from tests.support.logs import options

UNITS = 4


@pytest.fixture
def collected_only_when_told() -> Iterator[None]:
    gc.disable()
    yield
    gc.enable()


@pytest.mark.usefixtures("collected_only_when_told")
def test_the_words_of_units_that_are_done_are_not_held(tmp_path: Path) -> None:
    units, _ = read_units(write_region(tmp_path, UNITS, 4), options(), None)
    limits, _ = load_limits(None)
    assert limits
    handovers = {str(number): partial(unit.hand_over, limits) for number, unit in enumerate(units)}
    gc.collect()
    held = [
        words_held()
        for name, _ in produce(handovers, limits, Printing())
        if name.endswith("unit-summary.pdf")
    ]
    assert len(held) == UNITS
    assert set(held) == {held[0]}, held


def words_held() -> int:
    return sum(isinstance(each, Words) for each in gc.get_objects())
