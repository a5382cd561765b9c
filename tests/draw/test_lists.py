"""The round list and the courses on paper: whatever the log holds, on as many pages as it takes."""

from datetime import time
from functools import cache
from random import Random
from typing import Any

import pytest
from msgspec.structs import replace

from handoff.draw.chart import draw_course
from handoff.draw.paper import PAPERS
from handoff.draw.paper.courses import CoursesLayout
from handoff.draw.paper.round_list import JOIN, STOP, RoundLayout
from handoff.draw.paper.typeface import BODY_PT, NAME_PT, SMALL, SMALL_BOLD, SMALL_PT
from handoff.model.figure import UsualLine
from handoff.model.lists import Course, CoursesPage, RoundPage, RoundRow
from tests.support.builders import UNIT, entry, handover, order, patient
from tests.support.charts import fallen_together
from tests.support.random_pages import DANGERS, GRAVEST_ALERTED, PRECAUTIONS, random_text
from tests.support.sheets import (
    TYPESETTER,
    Read,
    courses_page,
    courses_pdf,
    grey,
    is_inside,
    overlaps,
    read_pdf,
    round_page,
    round_pdf,
)
from tests.support.tags import Tagged

PARTS, SHEETS_A_LIST = 6, 8  # random lists in parts; one for so many random sheets
BEDS = ("7", "12A", "Long corridor bay 14", "B" * 20)
HEAVY = "OPEN: " + "low oxygen, pulse, faint, chest pain, " * 3 + "drowsy, not told. " + PRECAUTIONS
WATCH = ("Measure again: SpO2", "Ask about pain before the next round", "Show it back") * 3


def faults(read: Read, paper: str) -> list[str]:
    """What is wrong with printed pages: a size more, a word in the margin, or on another."""
    across = (max(PAPERS[paper]), min(PAPERS[paper]))
    found = []
    for pieces in read.pieces:
        sizes = {piece.size for piece in pieces} - {SMALL_PT, BODY_PT, NAME_PT}
        found += [f"a size more: {size}" for size in sizes]
        found += [f"in the margin: {piece}" for piece in pieces if not is_inside(piece, across)]
        found += [f"overlap: {pair}" for pair in overlaps(pieces)]
    return found


def letters(text: str) -> str:
    return "".join(filter(str.isalpha, text))


# The round list


@cache
def of_one() -> RoundPage:
    rows = [entry(f"{hour:02}:00", volume_ml=1200, on_oxygen=False) for hour in range(8, 18)]
    return round_page(handover(*rows))


def ward(count: int, **fields: Any) -> RoundPage:
    """So many beds of one kind."""
    plain = of_one().rows[0]
    rows = (
        replace(plain, bed=f"{number}A", id=f"id 7{number:04} · born 2 Apr 1958", **fields)
        for number in range(count)
    )
    return replace(of_one(), rows=tuple(rows))


def random_row(random: Random, number: int) -> RoundRow:
    return replace(
        of_one().rows[0],
        bed=random.choice(BEDS),
        name=random_text(random, 120),
        id=f"id 7{number:04} · born 2 Apr 1958",
        heavy=random.choice(("", "", "HELD, NO EXERCISE.", HEAVY, random_text(random, 700))),
        watch=tuple(random_text(random, 100) for _ in range(random.choice((0, 1, 3, 12)))),
    )


def numbers(part: int, request: pytest.FixtureRequest) -> range:
    """The random lists of one part of them; more by the option for random sheets."""
    return range(part, max(PARTS, request.config.getoption("--pages") // SHEETS_A_LIST), PARTS)


@pytest.mark.parametrize("part", range(PARTS))
def test_a_round_list_of_anybody_has_each_row_whole_on_one_page(
    request: pytest.FixtureRequest, part: int
) -> None:
    for number in numbers(part, request):
        paper = ("a4", "letter")[number % 2]
        page = random_round_list(number)
        read = read_pdf(round_pdf(page, paper))
        assert faults(read, paper) == [], f"list {number}"
        for index in range(len(page.rows)):
            assert sum(f"7{index:04} ·" in text for text in read.pages) == 1
        for words in (*page.standing, page.fetch.value):
            assert all(words in text for text in read.pages)
        of = len(read.pages)
        assert all(f"page {each} of {of}" in text for each, text in enumerate(read.pages, 1))


def random_round_list(number: int) -> RoundPage:
    random = Random(number)
    count, hours = (0, 1, 2, 15, 30, 40)[number % 6], of_one().hours
    rows = tuple(random_row(random, each) for each in range(count))
    if number % 3 == 0:  # the night with 13 hours, two of one name
        hours = (*hours, "01:00 ADT")
        rows = tuple(replace(each, boxes=(*each.boxes, each.boxes[-1])) for each in rows)
    return replace(of_one(), rows=rows, hours=hours, empty="Nobody is on the list.")


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(("beds", "pages"), [(0, 1), (1, 1), (15, 1), (30, 2), (40, 3)])
def test_thirty_beds_are_on_two_pages(beds: int, pages: int, paper: str) -> None:
    """Each with its order, limits and last volume, and a line to see to."""
    page = ward(beds, watch=WATCH[:1])
    assert len(read_pdf(round_pdf(page, paper)).pages) == pages


def test_the_orders_lines_are_put_together_only_where_that_spares_a_page() -> None:
    def pages_and_joined(page: RoundPage) -> tuple[int, bool]:
        pages = read_pdf(round_pdf(page)).pages
        return len(pages), JOIN.join(page.rows[0].order[:2]) in " ".join(pages)

    assert pages_and_joined(ward(2)) == (1, False)
    assert pages_and_joined(ward(15, watch=WATCH[:1])) == (1, True)
    assert pages_and_joined(ward(20, heavy=HEAVY, watch=WATCH * 2)) == (7, False)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("beds", [14, 30])
def test_nothing_of_a_full_list_is_cut(beds: int, paper: str) -> None:
    """A list takes the pages that it needs: what closes a danger stands among what is to see to."""
    heavy = " ".join(f"{number}-told" for number in range(60))
    page = ward(beds, watch=WATCH, heavy=heavy)
    whole = " ".join(read_pdf(round_pdf(page, paper)).pages)
    for words in (heavy, STOP.join(WATCH), "10 breaths every hour", page.rows[0].order[-1]):
        assert whole.count(words) == beds
    assert "…" not in whole


def test_what_is_heavy_stands_under_the_patient_where_that_makes_the_row_lower() -> None:
    """Beside four lines of the order an alert takes no line of its own."""

    def height(heavy: str) -> float:
        page = ward(1, heavy=heavy)
        return RoundLayout(TYPESETTER, page, 724).row(page.rows[0], apart=True).height

    assert height("NAME ALERT: bed 3.") == height("") < height("OPEN: pulse, not told. " * 3)


def test_a_gravest_patient_has_a_row_with_everything_that_is_open() -> None:
    page = round_page(GRAVEST_ALERTED)
    read = read_pdf(round_pdf(page))
    assert faults(read, "letter") == []
    (text,) = read.pages
    assert page.rows[0].heavy in text
    assert page.rows[0].heavy.count(",") >= 9  # of the titles
    assert "NAME ALERT" in page.rows[0].heavy


def test_a_bed_that_is_not_recorded_is_said_without_a_broken_word() -> None:
    row = replace(of_one().rows[0], bed="not recorded")
    (pieces,) = read_pdf(round_pdf(replace(of_one(), rows=(row,)))).pieces
    assert {"not", "recorded"} <= {piece.text.strip() for piece in pieces}


def test_many_hours_have_narrow_boxes_and_every_other_time_above_them() -> None:
    row = replace(of_one().rows[0], boxes=of_one().rows[0].boxes * 2)
    hours = tuple(f"{hour % 24:02}:00" for hour in range(19, 43))
    page = replace(of_one(), rows=(row,), hours=hours)
    read = read_pdf(round_pdf(page))
    assert faults(read, "letter") == []
    assert "19:00" in read.pages[0]
    assert "20:00" not in read.pages[0]


def test_a_round_list_is_a_table_that_is_read_row_by_row() -> None:
    """What is heavy right after who it is; one picture for hatched hours next to each other. The
    titles of the columns are read once.
    """
    quiet = replace(UNIT, quiet_hours=(time(22), time(6)))
    rows = round_page(handover(unit=quiet, patients=(patient(precautions="flat"),)))
    page = replace(rows, rows=rows.rows * 30)
    read = Tagged(round_pdf(page))
    assert (read.faults, read.untagged) == ([], [])
    first = read.lines()[read.lines().index("  Table") :][:40]
    hours = ["19:00", "20:00", "21:00", "22:00", "23:00", "00:00", "01:00", "02:00", "03:00"]
    titles = ["Bed", "Patient", "Order, oxygen, fetch the nurse if", "To see to", *hours]
    titles += ["04:00", "05:00", "06:00"]
    assert first[1:18] == ["    TR", *(f"      TH column: {each}" for each in titles)]
    assert first[18:34] == [
        "    TR",
        "      TH row: 12A",
        "      TD",
        "        P: Larkspur, Odile",
        "        P: id 10442 · born 2 Apr 1958",
        "        P: PRECAUTIONS: flat.",
        "      TD",
        "        P: 10 breaths every hour",
        "        P: goal 2,000 mL, no volume yet",
        "        P: air or oxygen not recorded",
        f"      TD: {STOP.join(page.rows[0].watch)}",
        *["      TD"] * 4,
        "        Figure: Nothing due, 22:00 to 06:00.",
    ]
    table = next(each for each in read.root.all() if each.role == "Table")
    assert len(table.kids) == 31
    assert {len(each.kids) for each in table.kids} == {16}


# The courses


@cache
def composed() -> CoursesPage:
    """A patient who is well, one who is not, one without a volume."""
    well, none = (patient(id=each, bed=each, order=order("-6 07:00")) for each in ("2", "3"))
    rows = [entry(f"-{day} 09:00", patient_id="2", volume_ml=900 + 90 * day) for day in range(1, 6)]
    return courses_page(handover(DANGERS, *rows, patients=(patient(), well, none)))


def random_course(random: Random, number: int) -> Course:
    return replace(
        random.choice(composed().courses),
        bed=random.choice(BEDS),
        name=random_text(random, 120),
        id=f"id 7{number:04} · born 2 Apr 1958",
        alerts=random.choice(((), (PRECAUTIONS[:500],), (random_text(random, 500), "NAME ALERT"))),
        open=random.choice(("", "OPEN: pulse, not told.", HEAVY[:240])),
        verdict=random.choice(("rising", "fell this shift", "too few", "fell, still open")),
    )


@pytest.mark.parametrize("part", range(PARTS))
def test_courses_of_anybody_are_each_whole_on_one_page(
    request: pytest.FixtureRequest, part: int
) -> None:
    for number in numbers(part, request):
        random, paper = Random(number), ("a4", "letter")[number % 2]
        count = (0, 1, 5, 12, 30, 40)[number % 6]
        courses = tuple(random_course(random, each) for each in range(count))
        page = replace(composed(), courses=courses, empty="Nobody has an order.")
        read = read_pdf(courses_pdf(page, paper))
        assert faults(read, paper) == [], f"courses {number}"
        for index in range(count):
            assert sum(f"7{index:04} ·" in text for text in read.pages) == 1
        whole = letters(" ".join(read.pages))
        assert all(letters(each.open) in whole for each in courses)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(("patients", "pages"), [(1, 1), (12, 1), (13, 2), (30, 3)])
def test_twelve_courses_are_on_a_page(patients: int, pages: int, paper: str) -> None:
    """Each with a matter open, precautions and a name of two lines."""
    grave = replace(
        composed().courses[0],
        name="Falcão de Brito, Conceição",
        alerts=("PRECAUTIONS: log-roll only",),
        open="OPEN: low oxygen, pulse, not told. NO EXERCISE: ask first.",
    )
    page = replace(composed(), courses=(grave,) * patients)
    assert len(read_pdf(courses_pdf(page, paper)).pages) == pages


def test_twelve_open_matters_and_a_name_of_80_letters_take_a_higher_row_and_are_whole() -> None:
    name = "Larkspur-" * 8 + "Odile-Am"
    assert len(name) == 80
    titles = ", ".join(f"matter {number:02}" for number in range(12))
    worst = replace(composed().courses[0], name=name, open=f"OPEN: {titles}, not told.")
    page = replace(composed(), courses=(worst, *composed().courses * 5))
    text = " ".join(read_pdf(courses_pdf(page)).pages)
    assert letters(name) in letters(text)  # a reader leaves out the hyphens at the ends of lines
    assert f"OPEN: {titles}, not told." in text


def test_the_longest_name_of_a_chart_is_never_cut() -> None:
    good, fast = entry("16:00", volume_ml=1000), entry("18:30", volume_ml=400, flow="fast")
    (text,) = read_pdf(courses_pdf(courses_page(handover(good, fast)), "a4")).pages
    assert "good form 1,000" in text


def test_no_word_of_a_chart_lies_on_another() -> None:
    for course in composed().courses:
        drawing = draw_course(course.chart, 170, 56, 50)
        assert fallen_together(drawing) == []


def test_the_two_that_matter_are_the_darkest_of_a_page_seen_from_afar() -> None:
    """In dots of two millimetres, wherever on the page they stand."""
    rows = [entry(f"-{day} {hour}:00", volume_ml=1500) for day in (3, 2, 1) for hour in (10, 20)]
    well = courses_page(handover(*rows, patients=(patient(order=order("-6 07:00")),))).courses[0]
    low = [entry(f"{hour}:00", volume_ml=800) for hour in (16, 17)]
    fell = handover(*rows, *low, patients=(patient(order=order("-6 07:00")),))
    grave = courses_page(fell).courses[0]
    assert grave.verdict == "fell this shift"
    for first, second in ((0, 1), (3, 8), (6, 11)):
        shown = tuple(grave if each in (first, second) else well for each in range(12))
        shown = tuple(replace(each, bed=f"{number}") for number, each in enumerate(shown))
        content = courses_pdf(replace(composed(), courses=shown))
        page, (pieces,) = grey(content, 12), read_pdf(content).pieces
        beds = {each.text.strip(): each.box for each in pieces if each.size == NAME_PT}
        darkness = {}
        for number in range(12):
            left, _, _, top = (round(edge / 6) for edge in beds[f"{number}"])  # 12 dots an inch
            darkness[number] = 255 - page[len(page) - top :][:20, left : left + 28].mean()
        darkest = sorted(darkness, key=lambda each: darkness[each], reverse=True)
        assert set(darkest[:2]) == {first, second}


def test_a_course_is_read_by_bed_and_name_urgency_verdict_chart_and_what_is_open() -> None:
    read = Tagged(courses_pdf(composed()))
    assert (read.faults, read.untagged) == ([], [])
    course = composed().courses[0]
    start = read.lines().index("  H2: 12A Larkspur, Odile")
    assert read.lines()[start:][:7] == [
        "  H2: 12A Larkspur, Odile",
        "  P: ESCALATE",
        f"  P: {course.verdict}",
        "  P: id 10442 · born 2 Apr 1958",
        f"  Figure: {course.chart_words}",
        f"  P: {course.spo2}",
        f"  P: {course.open}",
    ]


@pytest.mark.parametrize("fell", [False, True])
def test_every_time_axis_is_of_one_length_and_every_name_has_its_room(*, fell: bool) -> None:
    """Also the longest one, and in heavy type where the volume fell: no number is ever cut."""
    usual = UsualLine(-20, 1500, "usual at least 2,500")
    plain = composed().courses[0]
    long = replace(plain, chart=replace(plain.chart, usual=usual, fell=fell))
    page = replace(composed(), courses=(*composed().courses, long))
    layout = CoursesLayout(TYPESETTER, page, 724, draw_course)
    style = SMALL_BOLD if fell else SMALL
    assert layout.longest_name == TYPESETTER.width_of(usual.label, style)
    (text,) = read_pdf(courses_pdf(page)).pages
    assert usual.label in text
    assert "…" not in text


def test_the_same_lists_give_the_same_bytes() -> None:
    assert round_pdf(of_one()) == round_pdf(of_one())
    assert courses_pdf(composed()) == courses_pdf(composed())


def test_only_embedded_fonts_and_an_arabic_name() -> None:
    name = "محمد عبد الرحمن"
    rows = (replace(of_one().rows[0], name=name),)
    for content in (
        round_pdf(replace(of_one(), rows=rows)),
        courses_pdf(replace(composed(), courses=(replace(composed().courses[0], name=name),))),
    ):
        read = read_pdf(content)
        assert read.embedded
        assert not any("Helvetica" in font for fonts in read.fonts for font in fonts)
        assert "\N{REPLACEMENT CHARACTER}" not in read.pages[0]
