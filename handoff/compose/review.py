"""How one unit did over weeks, in finished words and series: `Review` -> `ReviewPage`.

Input: a `Review`, words. Output: a `ReviewPage`. Counts nothing, and says of each chart no more
than it bears. What the review does not show is said to be not shown, never printed as zero.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from handoff.compose.words import Words
from handoff.model import rounding
from handoff.model.figure import (
    BegunCurve,
    HeatCell,
    HeatMap,
    Named,
    WeeksChart,
    WeeksDot,
)
from handoff.model.pages import Fact, ReviewFigure, ReviewList, ReviewPage, ReviewSection
from handoff.model.review import (
    FEWEST_POINTS,
    FEWEST_STAYS,
    WITHIN_H,
    Curve,
    Delay,
    Done,
    Measure,
    Point,
    ProportionChart,
    Review,
    RunChart,
    Share,
    Turn,
)
from handoff.model.rounding import whole

IN_SHORT_H = 4  # of `WITHIN_H`: the one named first
DAYS_NAMED = 5  # at most, along a chart's foot
TOPS = (5, 10, 20, 40, 60, 80, 100)  # per cent at the top of an axis
ALL, HEADROOM = 100, 1.05
HOUR_STEPS = (1, 2, 4, 6, 12, 24, 48, 96, 168)  # between the hours named under the curve
HOURS_NAMED = 7
HORIZON_H = 48.0  # the curve is drawn no further: the first two days are what a unit can change
LEAST_APART = 0.09  # of the axis: between two numbers of those waiting
SHARES = (0.0, 0.5, 1.0)


def compose_review(review: Review, words: Words) -> ReviewPage:
    """The review of one unit."""
    say = _Say(review, words)
    longest = max(((each.end - each.start).total_seconds() for each in review.logs.gaps), default=0)
    facts = {
        "logs": review.logs,
        "stays": review.stays,
        "entries": whole(review.entries),
        "entry_count": review.entries,
        "longest_h": whole(longest / 3600),
    }
    behind = (say(f"behind.{name}", **facts) for name in ("used", "not_used", "gaps", "overlaps"))
    return ReviewPage(
        title=say("title"),
        unit=review.unit.name,
        period=say("period", period=review.period),
        behind=tuple(filter(None, behind)),
        in_short=ReviewList(say("short.title"), tuple(say.in_short())),
        sections=()
        if review.stays is None
        else (
            ReviewSection(
                say("begun.title"), (say.begun(), say.curve(), *say.charts(Measure.BEGUN))
            ),
            ReviewSection(say("done.title"), tuple(say.done_cells())),
            ReviewSection(say("practice.title"), (say.practice(), *say.charts(Measure.TECHNIQUE))),
            ReviewSection(
                say("told.title"), (say.told(), *say.charts(Measure.TOLD), say.reading())
            ),
        ),
        standing=say("standing"),
        page_words=words.say("page"),
    )


class _Say:
    """The words of one review."""

    def __init__(self, review: Review, words: Words) -> None:
        self._review, self._words = review, words
        self._weeks = max(round(review.period.days / 7), 1)

    def __call__(self, name: str, /, **more: object) -> str:
        return self._words.say(f"review.{name}", fewest=FEWEST_STAYS, **more)

    # Shares and facts

    def _share(self, share: Share) -> str:
        """'62 of 80 (78 %)', or that it is not shown."""
        numbers = (share.numerator, share.denominator)
        numerator, denominator = (None if each is None else whole(each) for each in numbers)
        own = {"numerator": numerator, "denominator": denominator, "percent": share.percent}
        return self("share", between=share.between, **own)

    def _percent(self, share: Share) -> str:
        return self("in_percent", percent=share.percent)

    def _hours(self, hours: float | None) -> str | None:
        return None if hours is None else self("hours", hours=hours)

    def _delay(self, delay: Delay) -> str:
        median, most = map(self._hours, (delay.median_h, delay.three_quarters_h))
        return self("delay", median=median, most=most)

    def _facts(self, part: str, shares: Mapping[str, Share]) -> list[Fact]:
        return [Fact(self(f"{part}.{name}"), self._share(each)) for name, each in shares.items()]

    def _count(self, count: int | None) -> str:
        return self("count", count=count)

    def in_short(self) -> Iterable[Fact]:
        """A sentence a part, and the charts with a signal."""
        review = self._review
        if review.stays is None:
            yield Fact("", self("short.few"))
            return
        begun, done, practice, told = review.begun, review.done, review.practice, review.told
        shares: dict[str, dict[str, object]] = {
            "begun": {
                "shown": begun.orders,
                "within": self._within(IN_SHORT_H),
                "hours": IN_SHORT_H,
                "never": self._share(begun.never),
            },
            "done": {
                "shown": done.credited.percent is not None,
                "credited": self._percent(done.credited),
                "not_charted": self._percent(done.not_charted),
            },
            "practice": {"shown": practice.blew.percent is not None}
            | {name: self._percent(getattr(practice, name)) for name in ("blew", "fast", "dizzy")},
            "told": {
                "shown": told.escalations is not None,
                "told": self._share(told.told),
                "open": self._share(told.open),
            },
        }
        for name, own in shares.items():
            yield Fact(self(f"short.{name}.label"), self(f"short.{name}.text", **own))
        yield Fact(self("short.signals.label"), self._signals())

    def _signals(self) -> str:
        """The charts with a signal, which way it goes, and of how many nothing can be said."""
        runs = {each.measure: each.turn for each in self._review.run_charts if each.has_signal}
        limited = [each.measure for each in self._review.proportion_charts if each.outside]
        signals = [
            self("signal", measure=self._measure(each), turn=self._turn(runs.get(each)))
            for each in dict.fromkeys((*runs, *limited))
        ]
        can_be_judged = [each.is_judged for each in self._review.run_charts]
        can_be_judged += [each.is_judged for each in self._review.proportion_charts]
        judged, unjudged = can_be_judged.count(True), can_be_judged.count(False)
        own = {"judged": judged, "unjudged": unjudged, "weeks": self._weeks}
        return self("short.signals.text", signals=signals, **own)

    def _turn(self, turn: Turn | None) -> str:
        if turn is None:
            return ""
        return self("turn", day=self._words.day(turn.first), is_higher=turn.is_higher)

    def _within(self, hours: int) -> str:
        """The share begun by then, or as long as enough are waiting."""
        curve = self._review.first_breath
        share = curve.begun_by(hours)
        if share is None or share.denominator is None:
            return self("begun.unknown")
        return self("begun.share", percent=share.percent, between=share.between, of=curve.orders)

    def begun(self) -> ReviewList:
        """What became of the orders."""
        begun = self._review.begun
        counts = [
            Fact(self(f"begun.{name}"), self._count(getattr(begun, name)))
            for name in ("orders", "not_known")
        ]
        shares = self._facts(
            "begun", {name: getattr(begun, name) for name in ("device", "taught", "shown_back")}
        )
        within = [
            Fact(self("begun.within", hours=hours), self._within(hours)) for hours in WITHIN_H
        ]
        return ReviewList(
            "", (*counts, *shares, *within, *self._facts("begun", {"never": begun.never}))
        )

    def done_cells(self) -> Iterable[ReviewList | ReviewFigure]:
        """All of it, over the weeks, and by weekday and hour. Not by shift: that depends on the
        hours of a shift, and would be read as a rank of teams.
        """
        done = self._review.done
        both = {"credited": done.credited, "not_charted": done.not_charted}
        for name, share in both.items():
            yield ReviewList("", tuple(self._facts("done", {name: share})))
        yield from self.charts(Measure.CREDITED)
        yield from self.charts(Measure.NOT_CHARTED)
        yield self._heat()

    def practice(self) -> ReviewList:
        """How the exercise went."""
        practice = self._review.practice
        names = ("blew", "fast", "short_hold", "dizzy", "pain", "declined", "taught_again")
        return ReviewList(
            "",
            tuple(
                Fact(
                    self(f"practice.{name}", pain_from=practice.pain_from),
                    self._share(getattr(practice, name)),
                )
                for name in names
            ),
        )

    def told(self) -> ReviewList:
        """What became of the escalations."""
        told = self._review.told
        return ReviewList(
            "",
            (
                Fact(self("told.escalations"), self._count(told.escalations)),
                *self._facts("told", {"told": told.told}),
                Fact(self("told.told_after"), self._delay(told.told_after)),
                *self._facts("told", {"settled": told.settled}),
                Fact(self("told.settled_after"), self._delay(told.settled_after)),
                *self._facts("told", {"open": told.open}),
            ),
        )

    def reading(self) -> ReviewList:
        """How to read the charts."""
        names = ("run", "limits", "blank")
        facts = (
            Fact(self(f"reading.{name}.label"), self(f"reading.{name}.text")) for name in names
        )
        return ReviewList(self("reading.title"), tuple(facts))

    # Figures

    def curve(self) -> ReviewFigure:
        """Time from order to first exercise."""
        curve = self._review.first_breath
        drawn = [each for each in curve.steps if each.after_h <= HORIZON_H]
        last = drawn[-1] if drawn else None
        return ReviewFigure(
            title=self("begun.curve"),
            chart=self._begun_curve(curve) if drawn else None,
            says=self(
                "begun.says",
                steps=drawn,
                horizon=self._hours(HORIZON_H),
                median=self._hours(curve.median_h),
                until=self._hours(curve.until_h),
                orders=curve.orders,
            ),
            alt=self(
                "begun.alt",
                steps=drawn,
                until=self._hours(min(curve.until_h, HORIZON_H)),
                last=last and ALL * last.begun,
                low=last and ALL * last.low,
                high=last and ALL * last.high,
            ),
        )

    def _begun_curve(self, curve: Curve) -> BegunCurve:
        until = min(curve.until_h, HORIZON_H)
        steps = [each for each in curve.steps if each.after_h <= until]
        step = next((each for each in HOUR_STEPS if until <= each * HOURS_NAMED), HOUR_STEPS[-1])
        hours = [float(hour) for hour in range(0, int(until) + 1, step)]
        waiting: list[Named] = []
        for each in steps:
            is_apart = not waiting or (
                each.after_h - waiting[-1][0] >= LEAST_APART * until
                and int(waiting[-1][1]) - each.waiting >= FEWEST_STAYS
            )
            if is_apart:
                waiting.append((each.after_h, str(each.waiting)))
        return BegunCurve(
            steps=tuple((each.after_h, each.begun, each.low, each.high) for each in steps),
            until_h=until,
            hours=tuple((hour, f"{hour:g}") for hour in hours),
            hours_label=self("begun.hours_label"),
            shares=tuple((share, self("in_percent", percent=ALL * share)) for share in SHARES),
            waiting=tuple(waiting),
            waiting_label=self("begun.waiting_label"),
        )

    def charts(self, measure: Measure) -> Iterable[ReviewFigure]:
        """The run charts and proportion charts of one measure."""
        for run in self._review.run_charts:
            if run.measure is measure:
                yield self._run(run)
        for limited in self._review.proportion_charts:
            if limited.measure is measure:
                yield self._proportion(limited)

    def _run(self, chart: RunChart) -> ReviewFigure:
        own = self._points(chart.points, chart.measure, chart.median, chart.every_d)
        dots = tuple(map(_dot, chart.points))
        says = (
            self("run.n", **own),
            self(
                "run.says",
                chart=chart,
                fewest_points=FEWEST_POINTS,
                weeks=self._weeks,
                turn=self._turn(chart.turn),
                **own,
            ),
        )
        drawn = self._weeks_chart(dots, [each.first for each in chart.points], chart.median, "run")
        return ReviewFigure(
            title=self("run.title", measure=self._measure(chart.measure)),
            chart=drawn,
            says=" ".join(filter(None, says)),
            alt=self("run.alt", **own),
        )

    def _proportion(self, chart: ProportionChart) -> ReviewFigure:
        points = [each.point for each in chart.points]
        own = self._points(points, chart.measure, chart.centre, 7)
        dots = tuple(
            WeeksDot(
                each.point.share.percent, each.point.is_whole, each.low, each.high, each.is_outside
            )
            for each in chart.points
        )
        own |= {"outside": len(chart.outside), "judged": chart.is_judged}
        weeks_from = [self._words.day(each.point.first) for each in chart.outside]
        says = (self("run.n", **own), self("proportion.says", weeks_from=weeks_from, **own))
        drawn = self._weeks_chart(dots, [each.first for each in points], chart.centre, "proportion")
        return ReviewFigure(
            title=self("proportion.title", measure=self._measure(chart.measure)),
            chart=drawn,
            says=" ".join(filter(None, says)),
            alt=self("proportion.alt", **own),
        )

    def _points(
        self, points: Sequence[Point], measure: Measure, median: float | None, every_d: int
    ) -> dict[str, object]:
        """The facts of a chart's points that its words may use."""
        shown = [each for each in points if each.share.percent is not None]
        sizes = [each.share.denominator or 0 for each in shown]
        percents = [each.share.percent or 0 for each in shown]
        most = max(sizes, default=0)
        return {
            "shown": bool(shown),
            "points": len(shown),
            "every_d": every_d,
            "hidden": len(points) - len(shown),
            "partly": any(not each.is_whole for each in shown),
            "least": whole(min(sizes, default=0)),
            "most": whole(most),
            "unit": self(f"units.{measure}", n=round(most)),
            "low": min(percents, default=None),
            "high": max(percents, default=None),
            "median": median,
        }

    def _weeks_chart(
        self, dots: tuple[WeeksDot, ...], days: Sequence[date], middle: float | None, kind: str
    ) -> WeeksChart | None:
        known = [dot for dot in dots if dot.percent is not None]
        if not known:
            return None
        values = [dot.percent or 0 for dot in known]
        values += [dot.high for dot in known if dot.high is not None]
        top = _top(HEADROOM * max(values))
        every = -(-len(days) // DAYS_NAMED)
        return WeeksChart(
            dots=dots,
            middle=middle,
            middle_label="" if middle is None else self(f"{kind}.middle", median=middle),
            days=tuple(
                (float(number), self._words.day(day))
                for number, day in enumerate(days)
                if number % every == 0
            ),
            percents=tuple((each, self("in_percent", percent=each)) for each in (0, top / 2, top)),
        )

    def _heat(self) -> ReviewFigure:
        by_hour = self._review.by_hour
        hours = sorted({hour for _, hour in by_hour})
        names = self("weekdays").split()
        known = {
            place: done.credited.percent
            for place, done in by_hour.items()
            if done.credited.percent is not None
        }
        low, high = (choose(known, key=known.__getitem__, default=None) for choose in (min, max))
        own: dict[str, object] = {"shown": len(known)}
        for name, place in (("low", low), ("high", high)):
            own |= {
                name: place and known[place],
                f"{name}_day": place and names[place[0]],
                f"{name}_hour": place and f"{place[1]:02}:00",
            }
        due = whole(self._review.done.credited.denominator or 0)
        top = _top(max(known.values(), default=0))
        chart = HeatMap(
            columns=tuple(str(hour) for hour in hours),
            rows=tuple(
                (name, tuple(_cell(by_hour.get((day, hour)), top) for hour in hours))
                for day, name in enumerate(names)
            ),
        )
        return ReviewFigure(
            title=self("done.heat"),
            chart=chart if known else None,
            says=self("done.heat_says", due=due, top=top),
            alt=self("done.heat_alt", **own),
        )

    def _measure(self, measure: Measure) -> str:
        return self(f"measures.{measure}")


def _dot(point: Point) -> WeeksDot:
    return WeeksDot(point.share.percent, point.is_whole)


def _top(highest: float) -> int:
    """The end of a scale in per cent that has room for the highest."""
    return next((each for each in TOPS if each >= highest), ALL)


def _cell(done: Done | None, top: int) -> HeatCell | None:
    """The cell of an hour; None where nothing was ever due."""
    if done is None:
        return None
    percent = done.credited.percent
    if percent is None:
        return HeatCell(None, "")
    return HeatCell(percent / top, rounding.percent(percent).removesuffix(" %"))
