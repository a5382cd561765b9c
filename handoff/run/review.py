"""Runs the stages over weeks: the logs of each unit -> its review, and the files of it.

Input: the logs of one unit, limits, the wanted days. Output: `Reviewed`, relative file names and
bytes. Touches no file.
"""

from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Executor
from datetime import date
from functools import partial
from itertools import chain, islice

from msgspec import field
from msgspec.structs import replace

from handoff.compose.languages import UnitWords
from handoff.compose.review import compose_review
from handoff.compose.review_csv import review_csv
from handoff.compose.words import Words
from handoff.draw.chart import draw_review_chart
from handoff.draw.paper import draw_review
from handoff.gather.across import time_shared
from handoff.gather.presence import Ward
from handoff.gather.weeks import gaps_of_weeks, stays_over_weeks
from handoff.judge import follow
from handoff.limits.reading import Limits
from handoff.measure.weeks import measure_shifts
from handoff.model.bounds import USUAL, Bounds
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.pages import ReviewPage
from handoff.model.review import Ending, FollowedStay, Logs, Period, Review
from handoff.model.ward import NONE_READ, Counts, Handover
from handoff.review import ShiftDays, Tables, joined, named, review, table_files, tables_of_stays
from handoff.run.bounds import within
from handoff.run.garbage import forget_now
from handoff.run.ordered_map import ordered_map
from handoff.run.sheets import File, Printing
from handoff.run.units import UnitLogs

STAYS_AT_ONCE = 50  # given to a worker: a second of work

EndedStay = tuple[Handover, Ending]


class Weeks(Frozen):
    """What is reviewed: the local days from `first` to `last`, of each unit all that its logs have
    where they are None. `lost` names the logs that cannot be used. `with_tables`: the tables behind
    the review are written too.
    """

    first: date | None = None
    last: date | None = None
    lost: tuple[str, ...] = ()
    with_tables: bool = False
    printing: Printing = field(default_factory=Printing)

    def of(self, ward: Ward) -> Period | None:
        """The days of the unit's logs among the wanted ones; None where no shift starts in them."""
        zone = ward.latest.unit.time_zone
        days = sorted(log.shift.start.astimezone(zone).date() for log in ward.logs)
        first, last = self.first or days[0], self.last or days[-1]
        return Period(first, last) if any(first <= day <= last for day in days) else None


class Reviewed(Frozen):
    """The review of one unit; None where no shift starts in the wanted days. `findings` are those
    of its logs, and on gaps and shifts that overlap.
    """

    name: str
    counts: Counts
    findings: tuple[Finding, ...]
    review: Review | None
    tables: Tables | None


def review_unit(
    unit: UnitLogs, limits: Limits, weeks: Weeks, executor: Executor | None = None
) -> Reviewed:
    """The review of one unit's logs. The executor's workers follow its stays."""
    forget_now()
    ward = unit.ward()
    counts = sum((log.counts for log in ward.logs), NONE_READ)
    overlapping = tuple(time_shared(ward.logs))
    findings = (*(found for log in ward.logs for found in log.findings), *overlapping)
    period = weeks.of(ward)
    if period is None:
        place = Place("--from, --to")  # no log is at fault
        nothing = finding("no-shift-in-period", place, unit=ward.name)
        return Reviewed(ward.name, counts, (*findings, nothing), None, None)
    zone = ward.latest.unit.time_zone
    shifts = [log.shift for log in ward.logs]
    days = [shift.start.astimezone(zone).date() for shift in shifts]
    logs = Logs(
        given=len(ward.logs),
        used=sum(period.first <= day <= period.last for day in days),
        not_used=weeks.lost,
        gaps=gaps_of_weeks(ward.logs, period),
        overlaps=len(overlapping),
    )
    of_unit = ward.latest.unit
    stays = stays_over_weeks(ward, [each.unpack() for each in unit.others])
    del ward  # its logs and the tables made of them are not in memory together
    task = partial(_followed, limits=limits, days=ShiftDays(shifts, zone))
    followed = ordered_map(executor, task, _in_parts(stays))
    tables = joined(followed, zone, period)
    pain_from = limits.value("pain-limits", "pain_at_or_over")
    reviewed = review(tables, of_unit, period, logs, pain_from)
    return Reviewed(of_unit.name, counts, findings, reviewed, tables)


def _in_parts(stays: Iterator[EndedStay]) -> Iterator[list[EndedStay]]:
    """Some stays at a time: one alone is sent to a worker with much that others need too."""
    while part := list(islice(stays, STAYS_AT_ONCE)):
        yield part


def _followed(stays: Iterable[EndedStay], limits: Limits, days: ShiftDays) -> Tables:
    """The tables of some stays, each followed to its end."""
    return tables_of_stays((_followed_stay(*each, limits) for each in stays), days)


def _followed_stay(handover: Handover, ending: Ending, limits: Limits) -> FollowedStay:
    (patient,) = handover.patients
    shifts = measure_shifts(handover, patient)
    return FollowedStay(handover, ending, shifts, follow(handover, patient, limits))


def produce_reviews(
    units: Sequence[UnitLogs],
    limits: Limits,
    weeks: Weeks,
    executor: Executor | None = None,
    bounds: Bounds = USUAL,
) -> Iterator[tuple[Reviewed, list[File]]]:
    """The review of each unit, without its tables, and its files, within the bounds. Each of the
    executor's workers makes one unit at a time; those of a single unit share its stays and tables.
    """
    task = partial(_made, limits=limits, weeks=weeks, bounds=bounds)
    if len(units) == 1:
        return map(partial(task, executor=executor), units)
    return ordered_map(executor, task, units)


def words_of(review: Review, printing: Printing) -> Words:
    """The words that a unit's review is printed with."""
    return UnitWords(review.unit.time_zone, printing.language, printing.templates).staff


def print_review(page: ReviewPage, words: Words, printing: Printing) -> bytes:
    """The pages of a review."""
    document = printing.document(words.say("review.file_title"), words.language)
    return draw_review(page, document, draw_review_chart)


def _made(
    unit: UnitLogs,
    limits: Limits,
    weeks: Weeks,
    bounds: Bounds,
    executor: Executor | None = None,
) -> tuple[Reviewed, list[File]]:
    with within(bounds):
        reviewed = review_unit(unit, limits, weeks, executor)
        return replace(reviewed, tables=None), list(_files(reviewed, weeks, executor))


def _files(reviewed: Reviewed, weeks: Weeks, executor: Executor | None) -> Iterator[File]:
    if reviewed.review and reviewed.tables:
        words = words_of(reviewed.review, weeks.printing)
        page = compose_review(reviewed.review, words)
        yield "review.pdf", print_review(page, words, weeks.printing)
        yield "review.csv", review_csv(reviewed.review)
        if weeks.with_tables:
            of_tables = ordered_map(executor, table_files, named(reviewed.tables))
            yield from chain.from_iterable(of_tables)
