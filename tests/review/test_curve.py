"""Time to the first exercise, against SciPy's product-limit estimate."""

import warnings
from importlib import import_module

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handoff.model.review import Share
from handoff.review.curve import curve
from tests.support.how_many import few

Followed = list[tuple[float, bool]]

# Weeks of remission under 6-mercaptopurine: Freireich et al., Blood 1963;21:699, the example of
# Kaplan and Meier's method in textbooks [data from memory]; False: in remission when last seen.
REMISSION: Followed = [
    *((6.0, True), (6.0, True), (6.0, True), (6.0, False), (7.0, True), (9.0, False)),
    *((10.0, True), (10.0, False), (11.0, False), (13.0, True), (16.0, True), (17.0, False)),
    *((19.0, False), (20.0, False), (22.0, True), (23.0, True), (25.0, False), (32.0, False)),
    *((32.0, False), (34.0, False), (35.0, False)),
]


def oracle(followed: Followed) -> list[tuple[float, float, float, float]]:
    """(time, begun, low, high) of each time at which somebody began, by SciPy."""
    known = [hours for hours, begun in followed if begun]
    open_ended = [hours for hours, begun in followed if not begun]
    scipy = import_module("scipy.stats")  # takes a second
    not_yet = scipy.ecdf(scipy.CensoredData(uncensored=known, right=open_ended)).sf
    with warnings.catch_warnings():  # it says where its interval is not defined
        warnings.simplefilter("ignore", RuntimeWarning)
        interval = not_yet.confidence_interval(confidence_level=0.95, method="log-log")
    of_time = zip(
        not_yet.quantiles,
        not_yet.probabilities,
        interval.low.probabilities,
        interval.high.probabilities,
        strict=True,
    )
    return [(t, 1 - p, 1 - high, 1 - low) for t, p, low, high in of_time if t in known]


def test_the_curve_of_the_textbooks_is_scipys() -> None:
    ours = curve(REMISSION)
    assert ours.orders == 21
    assert [(each.after_h, round(1 - each.begun, 3)) for each in ours.steps] == [
        *((6, 0.857), (7, 0.807), (10, 0.753), (13, 0.690), (16, 0.627), (22, 0.538), (23, 0.448))
    ]
    assert ours.median_h == 23
    for step, (hours, begun, low, high) in zip(ours.steps, oracle(REMISSION), strict=True):
        assert step.after_h == hours
        assert (step.begun, step.low, step.high) == pytest.approx((begun, low, high))


@given(
    st.lists(
        st.tuples(st.integers(0, 12).map(lambda each: each / 2), st.booleans()),
        min_size=5,
        max_size=40,
    ).filter(lambda each: any(begun for _, begun in each))
)
@settings(max_examples=few(40), deadline=None)
def test_any_curve_is_scipys_as_far_as_it_is_drawn(followed: Followed) -> None:
    ours = curve(followed)
    theirs = oracle(followed)[: len(ours.steps)]
    for step, (hours, begun, low, high) in zip(ours.steps, theirs, strict=True):
        assert step.after_h == hours
        assert step.begun == pytest.approx(begun)
        if begun < 1:  # SciPy's interval is not defined where all have begun
            assert (step.low, step.high) == pytest.approx((low, high))
        assert step.waiting >= 5


def test_it_ends_where_fewer_than_five_are_waiting() -> None:
    ours = curve([(1, True), (2, True), (3, True), (4, True), (5, True), (6, True)])
    assert [each.waiting for each in ours.steps] == [6, 5]
    assert ours.until_h == 2


def test_of_four_orders_there_is_none() -> None:
    ours = curve([(1, True)] * 4)
    assert (ours.steps, ours.orders) == ((), None)


def test_shares_read_from_it_never_fall_and_are_not_known_where_it_has_ended() -> None:
    """One of the six who had left unbegun at 10 h is still one of the six at 24 h."""
    ours = curve(
        [*[(1.0, True)] * 15, *[(3.0, True)] * 5, *[(10.0, False)] * 6, *[(30.0, True)] * 5]
    )
    by = [each and each.numerator for each in map(ours.begun_by, (0.5, 2, 4, 24, 30, 31))]
    assert by == pytest.approx([0, 15, 20, 20, 31, 31])
    few = curve([*[(1.0, True)] * 7, *[(10.0, False)] * 3])
    assert few.begun_by(4) is None
    assert few.begun_by(1) == Share(None, 10, (6, 9))
    assert curve([*[(1.0, True)] * 4, *[(10.0, False)] * 8]).orders is None


def test_a_share_within_hours_is_the_curves_and_not_that_of_whole_orders() -> None:
    """1 - 15/20 x 9/14: of 20 orders 10.36, and 52 %, not 10 of 20 and 50 %."""
    ours = curve([*[(1.0, True)] * 5, (2.0, False), *[(3.0, True)] * 5, *[(9.0, False)] * 9])
    by = ours.begun_by(4)
    assert by is not None
    assert by.percent == pytest.approx(100 * (1 - 15 / 20 * 9 / 14))
    assert by.percent == pytest.approx(100 * ours.steps[-1].begun)


def test_who_left_without_counts_as_not_known_and_not_as_never() -> None:
    """Two of six had left when the last two began: of four still waiting, not of six."""
    everybody = curve([(1, True), (1, True), (3, True), (3, True), (9, True), (9, True)])
    two_left = curve([(1, True), (1, True), (2, False), (2, False), *[(3.0, True)] * 5])
    assert everybody.steps[0].begun == pytest.approx(2 / 6)
    assert [each.begun for each in two_left.steps] == pytest.approx([2 / 9, 1])
