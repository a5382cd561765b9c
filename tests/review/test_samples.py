"""Eight weeks of two invented units: in one the fifth week changes something, in one nothing."""

from collections.abc import Iterable
from datetime import date
from pathlib import Path

import pytest

from handoff.model.review import Measure, Review
from handoff.run.handovers import read_weeks
from handoff.run.review import Weeks, review_unit
from tests.support.builders import default_limits
from tests.support.logs import options
from tests.tools.review_sample import write_samples


def reviewed(paths: Iterable[str]) -> Review:
    (logs,), _, _ = read_weeks(list(paths), options())
    review = review_unit(logs, default_limits(), Weeks()).review
    assert review is not None
    return review


@pytest.mark.long
def test_the_charts_show_what_changed_and_nothing_where_nothing_did(tmp_path: Path) -> None:
    samples = write_samples(tmp_path)
    changed, quiet = reviewed(samples["changed"]), reviewed(samples["quiet"])
    signals = [each for each in changed.run_charts if each.has_signal]
    assert [each.measure for each in signals] == [Measure.BEGUN]
    assert signals[0].has_long_run
    assert signals[0].has_few_crossings
    assert [each.measure for each in changed.proportion_charts if each.outside] == [Measure.BEGUN]
    assert not any(each.has_signal for each in quiet.run_charts)
    assert not any(each.outside for each in quiet.proportion_charts)
    assert any(each.is_judged for each in quiet.run_charts)
    # What is the same in both is about the same; what is begun is not.
    for name in ("credited", "not_charted"):
        one, other = (getattr(each.done, name).percent or 0 for each in (changed, quiet))
        assert one == pytest.approx(other, abs=5)
    within = [each.first_breath.at(4) for each in (changed, quiet)]
    assert within[0]
    assert within[1]
    assert within[0].begun > within[1].begun + 0.15
    turn = signals[0].turn
    assert turn
    assert turn.is_higher
    assert date(2026, 1, 29) <= turn.first <= date(2026, 2, 6)  # it changes on 2 February
