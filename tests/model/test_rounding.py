"""Numbers on paper: never more said than the number bears."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handoff.model import rounding


@pytest.mark.parametrize(
    ("volume_ml", "printed"),
    [(0, "0 mL"), (950, "950 mL"), (1500, "1,500 mL"), (1499.6, "1,500 mL"), (12000, "12,000 mL")],
)
def test_volume_is_whole_ml_with_a_thousands_comma(volume_ml: float, printed: str) -> None:
    assert rounding.volume(volume_ml) == printed


@pytest.mark.parametrize(
    ("share", "printed"),
    [
        (0, "0 %"),
        (0.2, "1 %"),
        (49.6, "50 %"),
        (99.5, "99 %"),
        (99.99, "99 %"),
        (100 - 1e-12, "100 %"),
        (100, "100 %"),
        (103.4, "103 %"),
    ],
)
def test_percent_says_100_only_when_reached_and_0_only_when_nothing_was_done(
    share: float, printed: str
) -> None:
    assert rounding.percent(share) == printed


@pytest.mark.parametrize(
    ("slope", "printed"),
    [
        (0, "0 mL"),
        (123, "+120 mL"),
        (-87, "−90 mL"),
        (4, "0 mL"),
        (1234, "+1,230 mL"),
    ],
)
def test_slope_is_signed_and_to_ten_ml(slope: float, printed: str) -> None:
    assert rounding.slope(slope) == printed


def test_a_bare_slope_is_the_same_without_its_unit() -> None:
    assert rounding.bare_slope(-802) == "−800"


@pytest.mark.parametrize(
    ("number", "printed"), [(10, "10"), (8.0, "8"), (8.25, "8.2"), (38.5, "38.5"), (-0.5, "−0.5")]
)
def test_one_decimal_has_no_trailing_zero(number: float, printed: str) -> None:
    assert rounding.one_decimal(number) == printed


@pytest.mark.parametrize(
    ("done", "due", "printed"),
    [
        (84, 120, ("84", "120")),
        (39.7, 40, ("39.7", "40")),
        (40, 40, ("40", "40")),
        (3.3, 3.3, ("3", "3")),
        (1200, 1300, ("1,200", "1,300")),
    ],
)
def test_breaths_are_equal_to_those_due_only_when_all_were_done(
    done: float, due: float, printed: tuple[str, str]
) -> None:
    assert rounding.breaths_of_due(done, due) == printed


@pytest.mark.parametrize(
    ("done", "due", "printed"),
    [(46, 120, ("46", "120")), (9.8, 20, ("9.8", "20")), (19.96, 20, ("19.96", "20"))],
)
def test_breaths_beside_their_percentage_have_as_few_decimals_as_give_it_again(
    done: float, due: float, printed: tuple[str, str]
) -> None:
    assert rounding.breaths_beside_percent(done, due) == printed
    for tenths in range(1200):
        done = tenths / 6
        shown, of = (float(each) for each in rounding.breaths_beside_percent(done, 200))
        assert rounding.percent(100 * shown / of) == rounding.percent(100 * done / 200)


@pytest.mark.parametrize(("number", "tens"), [(0.0, 10), (9.9, 10), (10.0, 20), (53.2, 60)])
def test_a_change_is_less_than_the_next_ten(number: float, tens: int) -> None:
    assert rounding.up_to_ten(number) == tens


@given(st.floats(0, 100, exclude_max=True))
def test_a_share_under_100_is_never_printed_as_100(share: float) -> None:
    assert rounding.percent(share) != "100 %" or share > 100 - 2 * rounding.NEARLY
