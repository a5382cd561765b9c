"""The pages of a unit's weeks: what each chart bears, and no more; nothing of few."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from handoff.compose.review import compose_review
from handoff.compose.words import Words
from handoff.draw.chart import draw_review_chart
from handoff.draw.paper import PAPERS, draw_review
from handoff.model.figure import BegunCurve, HeatMap, WeeksChart
from handoff.model.pages import ReviewFigure, ReviewList, ReviewPage
from handoff.model.review import (
    HIDDEN,
    Curve,
    Delay,
    Measure,
    Point,
    ProportionChart,
    Review,
    Share,
    Step,
    Turn,
)
from handoff.model.ward import Gap
from tests.support.builders import at
from tests.support.pseudo_language import write_templates
from tests.support.reviews import MONDAY, ZONE, points, review, run_chart
from tests.support.sheets import document, grey, is_inside, overlaps, read_pdf, texts, words
from tests.support.tags import Tagged, faults
from tests.support.watched import WatchedWords
from tests.support.wording import misread


def page(given: Review | None = None, said: Words | None = None) -> ReviewPage:
    return compose_review(given or review(), said or words(ZONE))


def review_pdf(of: ReviewPage, paper: str = "letter") -> bytes:
    return draw_review(of, document(paper, "weeks"), draw_review_chart)


def figures(of: ReviewPage) -> Iterator[ReviewFigure]:
    for section in of.sections:
        yield from (cell for cell in section.cells if isinstance(cell, ReviewFigure))


def figure(of: ReviewPage, title: str) -> ReviewFigure:
    return next(each for each in figures(of) if each.title.startswith(title))


def values(of: ReviewPage, label: str) -> list[str]:
    """The values of every fact of this label."""
    lists = [cell for each in of.sections for cell in each.cells if isinstance(cell, ReviewList)]
    return [fact.value for cell in lists for fact in cell.facts if fact.label == label]


# What it says


def test_in_short_it_says_what_leads_to_a_question() -> None:
    assert [f"{each.label} {each.value}" for each in page().in_short.facts] == [
        ("Begun: a first exercise within 4 h of the order: 70 %; never begun: 1 to 4 of 84."),
        (
            "Done: 77 % of the breaths due were credited. Of the hours with breaths due, 12 % were "
            "not charted, which is not the same as not done."
        ),
        (
            "Well done: of the exercises, 3 % were blown into the device and 10 % were too fast; "
            "2 % came with dizziness."
        ),
        (
            "Told: 41 of 48 (85 %) of the escalations to the provider; "
            "open (not told or not settled): 1 to 4 of 48."
        ),
        (
            "Signals: breaths credited, of those due: mostly lower before about 6 Feb, higher "
            "since; begun within 4 h, of orders. Something changed there; a chart does not say "
            "what. Too few points to say in 1 chart."
        ),
    ]


def test_what_it_rests_on_and_what_is_missing_is_said() -> None:
    given = review()
    gaps = (Gap(at("07:00"), at("19:00")), Gap(at("+2 07:00"), at("+4 07:00")))
    logs = replace(given.logs, gaps=gaps, overlaps=2)
    behind = page(replace(given, logs=logs)).behind
    assert behind == (
        "96 patient-stays and 12,480 entries, from 111 of 112 logs.",
        "1 log could not be read, of this unit or another: what is in there is missing here.",
        (
            "No log of 12 May 07:00 to 12 May 19:00; 14 May 07:00 to 16 May 07:00, "
            "the longest 48 h: nothing is put in."
        ),
        "2 pairs of shifts overlap: what both cover is counted once.",
    )
    one = page(replace(given, logs=replace(logs, gaps=gaps[:1]))).behind
    assert one[2] == "No log of 12 May 07:00 to 12 May 19:00: nothing is put in."
    many = page(replace(given, logs=replace(logs, gaps=gaps[:1] * 30))).behind
    assert many[2].endswith("; and 26 more times, the longest 12 h: nothing is put in.")


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (HIDDEN, "not shown: under 5 stays"),
        (Share(None, 84, (1, 4)), "1 to 4 of 84"),
        (Share(None, 84, (80, 83)), "80 to 83 of 84"),
        (Share(None, 84), "not shown: it would tell of under 5"),
        (Share(0, 0), "none"),
        (Share(0, 84), "0 of 84 (0 %)"),
        (Share(1_000.4, 1_000_000), "1,000 of 1,000,000 (1 %)"),  # something was done: not 0 %
        (Share(83.6, 84), "84 of 84 (99 %)"),
    ],
)
def test_a_share_is_its_numbers_or_that_it_is_not_shown(share: Share, said: str) -> None:
    given = review()
    of = page(replace(given, begun=replace(given.begun, device=share)))
    assert values(of, "Had a device") == [said]


def test_a_chart_says_what_it_bears() -> None:
    said = {each.title: each.says for each in figures(page())}
    assert said["Hours not charted, of those due"] == (
        "16 points of 4 days, 100 spans each. No signal in 8 weeks: longest run 4 (up to 7 is "
        "usual), 8 crossings (5 or more is usual)."
    )
    assert said["Breaths credited, of those due"].endswith(
        "A signal: 8 points in a row on one side of the median (up to 7 is usual); mostly "
        "lower before about 6 Feb, higher since. Something changed; the chart does not say what."
    )
    assert said["Told, of escalations"].endswith(
        "Too few points for the rules, which want 10 off the median: it says nothing yet."
    )
    limits = said["Begun within 4 h, of orders: weeks and their limits"]
    assert "Outside the limits (ringed): the week from 2 Feb. That is seldom chance" in limits


def test_a_share_of_all_but_few_is_said_so_and_a_turn_downwards_too() -> None:
    of = page(NEARLY_ALL)
    assert "within 4 h of the order: 80 to 83 of 84;" in of.in_short.facts[0].value
    assert "mostly higher before about 5 Jan, lower since" in of.in_short.facts[-1].value


def test_few_crossings_are_a_signal_too() -> None:
    chart = run_chart(Measure.CREDITED, [50] * 16, 100, crossings=2, longest_run=9)
    says = figure(page(review(run_charts=(chart,))), "Breaths credited").says
    assert "9 points in a row on one side" in says
    assert "and 2 crossings of it (5 or more is usual)" in says


def test_without_a_signal_the_weeks_are_said_and_without_enough_points_nothing_is() -> None:
    def signals(*measures: int) -> str:
        charts = tuple(
            run_chart(Measure.CREDITED, [50] * 16, 100, useful=useful) for useful in measures
        )
        return page(review(run_charts=charts, proportion_charts=())).in_short.facts[-1].value

    assert signals(16, 4) == (
        "none in 8 weeks, in the 1 chart that can be judged. Too few points to say in 1 chart."
    )
    assert signals(16) == "none in 8 weeks, in the 1 chart that can be judged."
    assert signals(4) == "none of the charts has enough points to say."


def test_points_of_few_stays_are_left_out_of_chart_and_words() -> None:
    known = points([70, 80, 60, 75, 70, 72, 71, 74, 73, 76, 77], 100, 7)
    hidden = Point(MONDAY + timedelta(days=77), HIDDEN, is_whole=True)
    partly = replace(known[0], is_whole=False)
    chart = replace(
        run_chart(Measure.CREDITED, [70], 100), points=(partly, *known[1:], hidden), median=73.0
    )
    found = figure(page(review(run_charts=(chart,))), "Breaths credited")
    assert (
        "11 points of 4 days, 100 breaths each; 1 not shown (under 5 stays); hollow" in found.says
    )
    assert isinstance(found.chart, WeeksChart)
    assert found.chart.dots[-1].percent is None
    nothing = replace(chart, points=(hidden,), median=None)
    found = figure(page(review(run_charts=(nothing,))), "Breaths credited")
    said_of_none = (
        "No point can be shown: under 5 stays each, or under 5 (or all but so few) in all."
    )
    assert (found.chart, found.says) == (None, said_of_none)


def test_the_curve_ends_where_it_ends_and_is_hidden_where_few_are_behind_it() -> None:
    found = figure(page(), "From order")
    assert isinstance(found.chart, BegunCurve)
    assert found.chart.until_h == 24
    assert found.says.startswith("Half of the 84 orders had begun 2 h after the order. Who left")
    assert found.alt.endswith("It rises to 90 % by 24 h, between 78 % and 100 %.")
    curve = replace(review().first_breath, median_h=None)
    found = figure(page(review(first_breath=curve)), "From order")
    assert found.says.startswith("Half of the 84 orders had not begun by 24 h after the order")
    hidden = Curve((), None, 0.0, None)
    found = figure(page(review(first_breath=hidden)), "From order")
    assert (found.chart, found.says) == (
        None,
        "Fewer than 5 orders, or fewer than 5 of them begun: not shown.",
    )


def test_the_heat_map_has_a_number_in_each_cell_that_is_shown() -> None:
    found = figure(page(), "Breaths credited of due, by weekday")
    assert isinstance(found.chart, HeatMap)
    assert found.chart.columns == tuple(str(hour) for hour in range(6, 22))
    wednesday = dict(found.chart.rows)["Wed"]
    assert wednesday[7] is not None
    assert (wednesday[7].share, wednesday[7].label) == (None, "")
    assert [each.label for each in wednesday[:3] if each] == ["62", "67", "72"]
    assert "78,000 breaths were due in all" in found.says
    assert "The lowest is 18 %, on Mon from 14:00; the highest is 87 %" in found.alt


FEW = review(
    run_charts=(
        *review().run_charts,
        run_chart(Measure.CREDITED, [50] * 16, 100, crossings=2, longest_run=9),
        run_chart(Measure.CREDITED, [50] * 16, 100, crossings=1),
        replace(run_chart(Measure.TOLD, [1], 1), points=(), median=None),
        replace(
            run_chart(Measure.TOLD, [9, 8], 10),
            median=None,
            points=(
                replace(points([4], 10)[0], is_whole=False),
                Point(MONDAY, Share(3, 6), is_whole=True),
                Point(MONDAY, HIDDEN, is_whole=True),
            ),
        ),
    ),
    proportion_charts=(
        *review().proportion_charts,
        ProportionChart(Measure.TOLD, (), None),
        replace(
            review().proportion_charts[0],
            points=tuple(replace(each, high=55.0) for each in review().proportion_charts[0].points),
        ),
    ),
)
FEW_WEEKS = review().proportion_charts[0].points[:3]
NOTHING = review(
    logs=replace(
        review().logs, not_used=(), overlaps=1, gaps=(Gap(at("07:00"), at("19:00")),), given=1
    ),
    stays=5,
    entries=1,
    first_breath=Curve((), None, 0.0, None),
    begun=replace(review().begun, orders=None, not_known=None, device=HIDDEN, taught=Share(0, 0)),
    done=replace(review().done, credited=HIDDEN),
    told=replace(
        review().told, escalations=None, told_after=Delay(None, None), open=Share(None, 48)
    ),
    practice=replace(review().practice, blew=HIDDEN),
    by_hour={},
    run_charts=(),
    proportion_charts=(
        ProportionChart(Measure.TOLD, review().proportion_charts[0].points[:3], 62.0),
    ),
)
OTHERS = review(
    logs=replace(review().logs, not_used=("a", "b"), gaps=(Gap(at("07:00"), at("19:00")),) * 5),
    period=replace(review().period, last=review().period.first),
    first_breath=replace(review().first_breath, median_h=None),
    run_charts=(run_chart(Measure.CREDITED, [50] * 16, 100),),
    proportion_charts=(),
)
ALMOST_NOBODY = review(stays=None)
NEARLY_ALL = review(
    first_breath=Curve((Step(1, 0.97, 0.9, 1.0, 84),), 84, 24.0, 1.0),
    run_charts=(
        run_chart(
            Measure.CREDITED,
            [50] * 16,
            100,
            longest_run=8,
            turn=Turn(MONDAY, is_higher=False),
        ),
    ),
)
VARIANTS = [review(), FEW, NOTHING, OTHERS, ALMOST_NOBODY, NEARLY_ALL]


def test_of_fewer_than_five_stays_there_is_one_sentence() -> None:
    of = page(ALMOST_NOBODY)
    assert of.behind[0] == "Fewer than 5 patient-stays, from 111 of 112 logs."
    assert [fact.value for fact in of.in_short.facts] == [
        (
            "Fewer than 5 patient-stays in these days: what rests on so few would point at "
            "somebody, and is not shown."
        )
    ]
    assert of.sections == ()


def test_the_variants_reach_every_branch_of_the_words() -> None:
    seen: set[str] = set()
    said = WatchedWords(ZONE, seen)
    for each in VARIANTS:
        page(each, said)
    said.compile_all()
    assert {name for name in said.branches - seen if name.startswith("review.")} == set()


@pytest.mark.parametrize("given", VARIANTS)
def test_nothing_is_easily_misread_and_all_of_it_is_printed_within_the_margins(
    given: Review,
) -> None:
    of = page(given)
    assert misread(of) == []
    read = read_pdf(review_pdf(of))
    assert len(read.pages) <= 3
    printed = " ".join(read.pages)
    unspoken = {each.alt for each in figures(of)} | {of.page_words}
    assert [text for text in texts(of) if text not in unspoken and text not in printed] == []
    for pieces in read.pieces:
        shown = [piece for piece in pieces if piece.text.strip()]
        assert min(piece.size for piece in shown) >= 8
        assert all(is_inside(piece, PAPERS["letter"]) for piece in shown)
        assert list(overlaps(shown)) == []


def test_a_usual_review_takes_two_pages_of_either_paper_and_its_bytes_repeat() -> None:
    for paper in PAPERS:
        assert len(read_pdf(review_pdf(page(), paper)).pages) == 2
    assert review_pdf(page()) == review_pdf(page())


def test_every_word_of_it_stands_in_the_templates(tmp_path: Path) -> None:
    foreign = Words(ZONE, own_folder=str(write_templates(tmp_path)))
    given: dict[str, Any] = {"unit": replace(review().unit, name="3")}
    said = " ".join(texts(page(replace(FEW, **given), foreign)))
    left = [word for word in said.split() if word.strip("(),.;:%").isascii() and word.isalpha()]
    assert left == []


def test_it_is_heard_in_order_and_conforms_to_both_standards() -> None:
    content = review_pdf(page())
    read = Tagged(content)
    assert (read.untagged, read.faults) == ([], [])
    heads = [each for each in read.root.all() if each.role in ("H1", "H2")]
    titles = ["Harbour 3 East", "In short", "Begun", "Done", "Well done", "Told"]
    assert [each.text for each in heads] == titles
    alts = [each.alt for each in read.root.all() if each.role == "Figure"]
    assert alts == [each.alt for each in figures(page())]
    assert faults(content) == []


# How it looks


def test_white_words_stand_on_dark_cells_and_black_ones_on_light() -> None:
    """Each keeps a contrast of 4.4 to 1 or more with its cell (WCAG 2.2)."""
    chart = figure(page(), "Breaths credited of due, by weekday").chart
    assert isinstance(chart, HeatMap)
    drawing = draw_review_chart(chart, 540, 132)
    tones = {path.commands[0][1:]: path.fill[0] for path in drawing.paths if path.fill}
    numbers = [text for text in drawing.texts if text.y < 118 and text.x > 40]
    assert {text.is_white for text in numbers} == {True, False}
    for text, tone in zip(numbers, tones.values(), strict=True):
        light = ((tone + 0.055) / 1.055) ** 2.4
        ratio = (1.05 / (light + 0.05)) if text.is_white else (light + 0.05) / 0.05
        assert ratio >= 4.4


def test_all_of_it_is_black_white_and_grey() -> None:
    for each in figures(page()):
        if each.chart:
            drawing = draw_review_chart(each.chart, 260, 120)
            colours = [colour for path in drawing.paths for colour in (path.fill, path.stroke)]
            assert all(len(set(colour)) == 1 for colour in colours if colour)
    assert grey(review_pdf(page()), 30).min() < 90


def test_a_point_outside_the_limits_is_ringed_and_one_without_a_log_hollow() -> None:
    chart = figure(page(), "Begun within 4 h, of orders: weeks").chart
    assert isinstance(chart, WeeksChart)
    plain = replace(chart, dots=tuple(replace(each, is_outside=False) for each in chart.dots))
    hollow = replace(chart, dots=tuple(replace(each, is_whole=False) for each in chart.dots))
    drawn = [draw_review_chart(each, 260, 96).paths for each in (chart, plain, hollow)]
    assert len(drawn[0]) == len(drawn[1]) + 1  # the ring
    assert drawn[2][-1].fill == (1, 1, 1)
