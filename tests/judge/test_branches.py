"""Every branch of every template is rendered; no sentence says more than the measures bear, and no
text is error-prone.

A table of hand-overs, some random ones, and the sample ward reach every branch; each page that they
give is held against its measures: a phrase may stand only where its condition is true.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from itertools import chain, cycle
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from msgspec.structs import replace

from handoff.compose.courses import compose_courses
from handoff.compose.discharge import compose_discharge
from handoff.compose.patient import compose_patient
from handoff.compose.results import Results
from handoff.compose.unit import compose_unit
from handoff.limits.reading import Limits
from handoff.model.lists import CoursesPage
from handoff.model.matters import Matter, Verdicts
from handoff.model.measures import Direction, GoalSource, Measures
from handoff.model.pages import PatientPage
from handoff.model.verdicts import Level, Priority
from handoff.model.ward import (
    Entry,
    Handover,
    Listing,
    What,
)
from tests.support.builders import (
    APPROVED,
    ZONE,
    all_changed,
    default_limits,
    with_limit,
    without_rules,
)
from tests.support.cases import CASES
from tests.support.how_many import few
from tests.support.random_handovers import handovers
from tests.support.sheets import results, round_page_of
from tests.support.watched import WatchedWords
from tests.support.wording import misread

SEEN: set[str] = set()
WORDS: dict[ZoneInfo, WatchedWords] = {}


def words(zone: ZoneInfo) -> WatchedWords:
    if zone not in WORDS:
        WORDS[zone] = WatchedWords(zone, SEEN)
    return WORDS[zone]


@dataclass(frozen=True)
class Rendered:
    """One patient's page with what it was made from."""

    page: PatientPage
    measures: Measures
    verdicts: Verdicts
    handover: Handover

    @property
    def said(self) -> dict[str, str]:
        return {fact.label: fact.value for fact in self.page.paragraphs}

    @property
    def exercises(self) -> list[Entry]:
        return [each for each in self.measures.shift_entries if each.is_exercise]


def render(given: Handover, limits: Limits, *, initials: bool) -> Iterator[Rendered]:
    """Every page of a hand-over in watched words, the summary and the take-home page as well; those
    of the ward by full names or by initials.
    """
    said = words(given.unit.time_zone)
    found = results(given, limits)
    notes = {}
    for number, (key, of_one) in enumerate(found.measures.items(), start=1):
        page = compose_patient(found, of_one.patient, said, (number, len(found.measures)))
        notes[key] = page.notes
        assert misread((page, compose_discharge(given, of_one, said))) == []
        yield Rendered(page, of_one, found.verdicts[key], given)
    assert misread(compose_unit(found, said, notes, initials=initials)) == []
    assert misread(round_page_of(found, said, initials=initials)) == []
    courses = compose_courses(found, said, initials=initials)
    assert misread(courses) == []
    hold_to_the_sheets(courses, found)


# The verdicts of a course that name a trend, and the trend that they name.
TRENDS = {
    "rising": Direction.RISING,
    "levelled off": Direction.LEVELLED_OFF,
    "falling": Direction.FALLING,
    "steady": Direction.STEADY,
    "not clear yet": Direction.NOT_CLEAR,
    "too few": Direction.TOO_FEW,
}


def hold_to_the_sheets(page: CoursesPage, found: Results) -> None:
    """The verdicts say what the sheets say: a fall wherever one is met or open, and a trend only
    where none is. The charts have no line that could say the opposite.
    """
    assert len(page.courses) == len(found.measures)
    shown = {each.id.split(" ")[1]: each for each in page.courses}
    for key, of_one in found.measures.items():
        course = shown.get(key) or shown[f"…{key[-4:]}"]
        fell, direction = found.verdicts[key].fell, of_one.trend.direction
        assert course.verdict.startswith("fell") == fell, course.verdict
        assert course.chart.trend is None
        if course.verdict in TRENDS:
            assert TRENDS[course.verdict] is direction
        assert not fell or course.verdict not in TRENDS
        assert len(course.verdict.split()) <= 3


# A phrase of a paragraph, and what must be true of the measures where it stands.
CLAIMS: tuple[tuple[str, str, Callable[[Rendered], bool]], ...] = (
    ("Situation", "has not been started", lambda r: not _exercised(r)),
    ("Situation", "Nothing is charted in this shift", lambda r: not r.measures.shift_entries),
    ("Situation", "No exercise is charted in this shift", lambda r: not r.exercises),
    ("Situation", "declined", lambda r: _declined(r) > 0),
    ("Situation", "no volume in good form.", lambda r: r.measures.volume.best_ml is None),
    ("Situation", "Best volume this shift", lambda r: r.measures.volume.best_ml is not None),
    ("Situation", "the ordered goal", lambda r: r.measures.goal.source is GoalSource.ORDERED),
    ("Situation", "own baseline", lambda r: r.measures.goal.source is GoalSource.BASELINE),
    ("Situation", "more than the best", lambda r: (r.measures.volume.change_ml or 0) > 0),
    ("Situation", "less than the best", lambda r: (r.measures.volume.change_ml or 0) < 0),
    ("Situation", "The same as the best", lambda r: r.measures.volume.change_ml == 0),
    ("Situation", "to compare with", lambda r: r.measures.volume.previous_best_ml is None),
    ("Situation", "Escalate:", lambda r: r.verdicts.priority is Priority.ESCALATE),
    ("Situation", "; not yet recorded as told", lambda r: not any(map(_told, _escalations(r)))),
    ("Situation", "; told, not seen to be over", lambda r: all(map(_told, _escalations(r)))),
    ("Situation", "; told, not seen to be over", lambda r: not any(map(_over, _escalations(r)))),
    ("Situation", "Still open:", lambda r: len(r.verdicts.open_matters) > len(_escalations(r))),
    ("Situation", "held since", lambda r: r.measures.hold is not None),
    ("Background", "Came from", lambda r: len({each.unit for each in _listings(r)}) > 1),
    ("Background", "An earlier stay", lambda r: r.measures.patient.id in r.handover.stay_before),
    ("Background", "left open:", lambda r: r.measures.patient.id in r.handover.stay_before),
    (
        "Background",
        "No log of this stay before",
        lambda r: r.measures.stay_start < _listings(r)[0].shift.start,
    ),
    ("Background", "Reason not recorded", lambda r: r.measures.patient.reason is None),
    ("Background", "after surgery", lambda r: r.measures.patient.surgery_on is not None),
    ("Background", "goal not understood", lambda r: "goal_ml" in r.measures.patient.unread),
    (
        "Background",
        ": no goal",
        lambda r: _order(r).goal_ml is None and "goal_ml" not in r.measures.patient.unread,
    ),
    (
        *("Background", "SpO2 at least"),
        lambda r: any(each.spo2_min is not None for each in r.measures.periods),
    ),
    ("Background", "Ordered until", lambda r: r.measures.periods[-1].stop is not None),
    ("Background", "Planned to go home", lambda r: r.measures.patient.home_on is not None),
    ("Assessment", "is rising", lambda r: r.measures.trend.direction is Direction.RISING),
    ("Assessment", "is falling", lambda r: r.measures.trend.direction is Direction.FALLING),
    ("Assessment", "is steady", lambda r: r.measures.trend.direction is Direction.STEADY),
    ("Assessment", "Volume rose", lambda r: r.measures.trend.direction is Direction.LEVELLED_OFF),
    ("Assessment", "not clear yet", lambda r: r.measures.trend.direction is Direction.NOT_CLEAR),
    ("Assessment", "The volume fell", lambda r: r.verdicts.fell),
    ("Assessment", "No trend", lambda r: r.measures.trend.n == 0),
    (
        "Assessment",
        "Not enough for a trend",
        lambda r: r.measures.trend.direction is Direction.TOO_FEW,
    ),
    ("Assessment", "No breaths were due", lambda r: r.measures.adherence.slots_due == 0),
    ("Assessment", "every span charted", lambda r: r.measures.adherence.slots_uncharted == 0),
    ("Assessment", "not the same as not", lambda r: r.measures.adherence.slots_uncharted > 0),
    ("Assessment", "At this pace", lambda r: (r.measures.goal.days_to_goal or (0,))[0] >= 1),
    ("Recommendation", "Tell the provider and record it", lambda r: not all(map(_told, _open(r)))),
    ("Recommendation", "easure again", lambda r: not all(map(_over, _open(r)))),
    ("Recommendation", "Ask again", lambda r: not all(map(_over, _open(r)))),
    ("Recommendation", "Coach", lambda r: not r.verdicts.holds_back and not r.measures.hold),
    ("Recommendation", "No exercise: held since", lambda r: _held_for(r) <= timedelta(hours=24)),
    ("Recommendation", "does it still stand?", lambda r: _held_for(r) > timedelta(hours=24)),
)


def _order(rendered: Rendered) -> Any:
    return rendered.measures.order


def _exercised(rendered: Rendered) -> bool:
    return any(each.is_exercise for each in rendered.measures.stay_entries)


def _declined(rendered: Rendered) -> int:
    return sum(each.what is What.DECLINED for each in rendered.measures.shift_entries)


def _escalations(rendered: Rendered) -> list[Matter]:
    return [each for each in rendered.verdicts.matters if each.level is Level.ESCALATE]


def _open(rendered: Rendered) -> tuple[Matter, ...]:
    return rendered.verdicts.open_matters


def _told(matter: Matter) -> bool:
    return bool(matter.told)


def _over(matter: Matter) -> bool:
    return matter.settled_at is not None


def _listings(rendered: Rendered) -> tuple[Listing, ...]:
    return rendered.handover.listings_of(rendered.measures.patient)


def _held_for(rendered: Rendered) -> timedelta:
    hold = rendered.measures.hold
    assert hold is not None
    return rendered.handover.as_of - hold.since


def hold_to_its_measures(rendered: Rendered) -> set[tuple[str, str]]:
    """The claims that the page makes, each of which must be true."""
    made = set()
    for label, phrase, is_true in CLAIMS:
        if phrase in rendered.said[label]:
            made.add((label, phrase))
            assert is_true(rendered), f"{label}: {phrase!r} in {rendered.said[label]!r}"
    assert ("no reading in good form this shift" in rendered.page.numbers[0].value) == (
        rendered.measures.volume.best_ml is None
    )
    drawn = rendered.page.chart
    fell = rendered.verdicts.fell
    assert (drawn.trend is not None) == rendered.measures.trend.is_given(fell=fell)
    assert not fell or drawn.trend is None or drawn.trend.middle_ml[0] > drawn.trend.middle_ml[1]
    assert len(drawn.readings) == sum(
        each.is_reading for each in rendered.measures.drawn_entries if _in_sight(each, rendered)
    )
    return made


def _in_sight(each: Entry, rendered: Rendered) -> bool:
    return (rendered.handover.as_of - each.at).days < 7


# Words that are not said by themselves, are of the log, or are on the pages to fill in by hand; and
# those of a unit's own limits, of which each has its test.
ELSEWHERE = frozenset(
    ("limits", "blank", "title", "terms", "months", "language.months", "matter.not_told")
)

# Every case is rendered by the default limits, with full names, and by one of the others, with
# initials: no limit makes a difference to a name, nor a name to a limit.
DEFAULT = default_limits()
OTHERS = (
    with_limit("fever", "temp_c_at_or_over", "38.3"),
    without_rules("going-home"),
    replace(default_limits(), **APPROVED),
    all_changed(),
)


def test_every_branch_is_rendered_and_true() -> None:
    made: set[tuple[str, str]] = set()
    for case, other in zip(CASES.values(), cycle(OTHERS)):
        for limits, initials in ((DEFAULT, False), (other, True)):
            for rendered in render(case, limits, initials=initials):
                made |= hold_to_its_measures(rendered)
    assert {(label, phrase) for label, phrase, _ in CLAIMS} - made == set()
    every = words(ZONE)
    every.compile_all()
    # Pages to fill in by hand and to take home, those of the whole ward, and the screen, are
    # rendered where they are tested: in test_blank.py, test_card.py, test_discharge.py,
    # test_review_page.py, test_round_list.py, test_courses.py and tests/desk.
    elsewhere = (
        *("blank.", "card.", "discharge.", "language.", "review.", "chart.strip", "desk."),
        *("round.", "courses."),
    )
    left = {each for each in every.branches - SEEN if not each.startswith(elsewhere)}
    assert left == set()
    unsaid = {each for each in every.names - SEEN - ELSEWHERE if not each.startswith(elsewhere)}
    assert {each for each in unsaid if each.partition(".")[0] not in ELSEWHERE} == set()


@settings(max_examples=few(10))
@given(handovers())
def test_random_hand_overs_say_nothing_that_their_measures_do_not_bear(given: Handover) -> None:
    both = (render(given, DEFAULT, initials=each) for each in (False, True))
    for rendered in chain.from_iterable(both):
        hold_to_its_measures(rendered)
