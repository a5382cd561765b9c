"""The page to take home and its log: large print, plain words, nothing meant for the staff."""

import re
import string
from datetime import date
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from shutil import copytree
from typing import Any

import pikepdf
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from handoff.cli import main as cli
from handoff.compose.discharge import compose_discharge
from handoff.compose.words import Words
from handoff.draw.paper import PAPERS, draw_discharge
from handoff.draw.paper.canvas import MARGIN_PT
from handoff.measure import measure
from handoff.model.pages import DischargePage, Fact, PageLanguage
from handoff.model.ward import Entry, Handover, Order, Unit
from tests.support.builders import UNIT, ZONE, entry, handover, order, patient
from tests.support.cases import DANGER_BEFORE, without_order_now
from tests.support.going_home import (
    FIRST,
    GIVEN,
    NEXT,
    STAY,
    WITH_PHONE,
    days,
    of_one,
    of_orders,
    sentences,
)
from tests.support.grade import grade
from tests.support.how_many import few
from tests.support.logs import ROOT
from tests.support.runs import WARD
from tests.support.sheets import document, read_pdf, results, texts, words
from tests.support.watched import WatchedWords
from tests.support.wording import FORBIDDEN

LEAST_PT = 16  # sheets.md of the design: large print, 16 pt or more


def discharge_page(given: Handover, own_folder: str | None = None) -> DischargePage:
    """The page of the hand-over's one patient, who is judged."""
    (measures,) = results(given).measures.values()
    return compose_discharge(given, measures, words(given.unit.time_zone, own_folder))


def discharge_pdf(page: DischargePage, paper: str = "letter") -> bytes:
    return draw_discharge(page, document(paper, "to take home"))


def ruled_lines(page: DischargePage) -> int:
    """How many lines are drawn on both sides."""
    with pikepdf.open(BytesIO(discharge_pdf(page))) as pdf:
        return sum(
            str(step.operator) == "l"
            for each in pdf.pages
            for step in pikepdf.parse_content_stream(each)
        )


def page_of(*entries: Entry, unit: Unit = UNIT, **fields: Any) -> DischargePage:
    return discharge_page(of_one(*entries, unit=unit, **fields))


# Who gets one


@pytest.mark.parametrize(
    ("home_on", "soon"),
    [
        (None, False),
        (date(2026, 5, 11), True),
        (date(2026, 5, 12), True),
        (date(2026, 5, 13), True),
        (date(2026, 5, 14), False),
    ],
)
def test_home_by_the_local_day_after_the_shift_is_soon(home_on: date | None, soon: bool) -> None:
    leaving = patient(home_on=home_on)
    given = handover(patients=(leaving,))
    assert leaving.goes_home_soon(given.shift, ZONE) is soon


def discharges(out: Path, *arguments: str) -> list[str]:
    assert cli.main(["sheets", *WARD, *arguments, "--out", str(out)]) == cli.DONE
    return sorted(path.name for path in out.glob("discharge/*"))


def test_those_who_go_home_soon_and_those_named_get_a_page(tmp_path: Path) -> None:
    arguments = ("--discharge", "1A", "--discharge", "7B")
    names = discharges(tmp_path / "out", *arguments)
    assert names == ["bed-1A.pdf", "bed-4B.pdf", "bed-7B.pdf"]
    text = " ".join(read_pdf((tmp_path / "out/discharge/bed-4B.pdf").read_bytes()).pages)
    assert "Falkvard, Sunniva" in text


def test_other_beds_than_those_asked_for_get_none(tmp_path: Path) -> None:
    assert discharges(tmp_path / "out", "--bed", "4B", "--discharge", "1A") == [
        *("bed-1A.pdf", "bed-4B.pdf")
    ]


@pytest.mark.parametrize(("bed", "why"), [("99Z", "no patient"), ("11A", "no order with a start")])
def test_a_bed_without_a_page_is_a_usage_error(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], bed: str, why: str
) -> None:
    arguments = ["sheets", *WARD, "--discharge", bed, "--out", str(tmp_path / "out")]
    assert cli.main(arguments) == cli.NOTHING_PRODUCED
    assert f"{why}" in capsys.readouterr().err.splitlines()[-1]
    assert not (tmp_path / "out").exists()


# What it says


def test_the_order_is_said_in_plain_words() -> None:
    page = page_of(order=order("-1 07:00", breaths=8, every_h=2, hold_s=3, goal_ml=1500))
    assert "Do 8 breaths every 2 hours while you are awake." in page.amount.lines
    assert "Your goal is 1,500 mL, and it is fine if you are not there yet." in page.amount.lines
    assert "Hold your breath for 3 seconds." in page.steps.lines[5]
    assert page.log
    assert page.log.amount.value == " ".join(page.amount.lines)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"breaths": 1}, "Do 1 breath every hour while you are awake."),
        ({"every_h": 24}, "Do 10 breaths once a day."),
        ({"breaths": 4}, "Take 2 or 3 at a time, and rest in between."),
        ({"goal_ml": None}, "Try to beat your own best, bit by bit."),
        ({}, "Go on until your nurse or doctor tells you to stop."),
    ],
)
def test_the_amount_says_what_is_ordered_and_no_more(fields: dict[str, Any], said: str) -> None:
    assert said in page_of(order=order("07:00", **fields)).amount.lines


def test_three_breaths_need_no_spreading_out() -> None:
    lines = page_of(order=order("07:00", breaths=3)).amount.lines
    assert not any("at a time" in line for line in lines)


def test_no_goal_names_none_not_even_the_baseline() -> None:
    page = page_of(order=order("07:00"), baseline_ml=1900)
    assert "goal" not in repr(page).lower()
    assert "1,900" not in repr(page)


def test_a_goal_that_was_reached_is_said_to_be() -> None:
    page = page_of(entry("09:00", volume_ml=2000), order=order("07:00", goal_ml=2000))
    assert "Your goal is 2,000 mL, and you have reached it." in page.amount.lines


@pytest.mark.parametrize(
    ("hold_s", "said"),
    [
        (1, "for 1 second."),
        (2.5, "for 2.5 seconds."),
        (0, "only as your nurse or doctor told you."),
    ],
)
def test_the_hold_is_as_ordered(hold_s: float, said: str) -> None:
    assert said in page_of(order=order("07:00", hold_s=hold_s)).steps.lines[5]


def test_an_order_that_ends_says_when_and_whom_to_ask() -> None:
    lines = page_of(order=order("07:00", "+2 20:00")).amount.lines
    assert lines[-1].startswith("This ends on 14 May. Ask your nurse or doctor")


def test_an_order_that_has_ended_is_not_given_as_an_instruction() -> None:
    (was, ended) = page_of(order=order("07:00", "18:00", goal_ml=2000)).amount.lines
    assert was == "Your order was 10 breaths every hour while awake."
    assert ended.startswith("The order ended on 12 May. Ask your nurse or doctor")


def two_orders(first: Order, later: Order, **fields: Any) -> DischargePage:
    return discharge_page(of_orders(first, later, **fields))


def test_an_order_that_begins_on_the_day_of_going_home_is_the_one_at_home() -> None:
    page = two_orders(FIRST, NEXT, home_on=date(2026, 5, 13))
    assert page.amount.lines == (
        "Do 5 breaths every 2 hours while you are awake.",
        "Take 2 or 3 at a time, and rest in between.",
        "Your goal is 900 mL, and you have reached it.",
        "Go on until your nurse or doctor tells you to stop.",
    )
    assert page.log
    assert len(page.log.days) == 7


@pytest.mark.parametrize("home_on", [date(2026, 5, 12), None])
def test_an_order_that_another_follows_has_not_ended(home_on: date | None) -> None:
    page = two_orders(FIRST, NEXT, home_on=home_on)
    do, _, goal, then, until = page.amount.lines
    assert do == "Do 10 breaths every hour while you are awake."
    assert goal == "Your goal is 1,500 mL, and it is fine if you are not there yet."
    assert then == (
        "From 13 May, do 5 breaths every 2 hours while you are awake. "
        "Try to reach 900 mL from then on."
    )
    assert until == "Go on until your nurse or doctor tells you to stop."
    assert page.log
    assert len(page.log.days) == 7


def test_an_order_that_another_follows_after_a_gap_ends() -> None:
    first = replace(FIRST, stop=order("+1 07:00").start)
    page = two_orders(first, NEXT, home_on=date(2026, 5, 12))
    assert "This ends on 13 May." in page.amount.lines[-1]
    assert not any("5 breaths" in line for line in page.amount.lines)


@pytest.mark.parametrize(
    ("stop", "home_on", "days"),
    [
        (None, date(2026, 5, 13), 7),
        ("+1 18:00", date(2026, 5, 13), 0),  # stops on the day of going home
        ("20:00", date(2026, 5, 13), 0),  # before it
        ("20:00", None, 0),  # on the day of the hand-over, where none is planned
        ("+1 18:00", date(2026, 5, 11), 2),  # was to leave yesterday, leaves today
        ("+2 18:00", date(2026, 5, 13), 2),
        ("+8 18:00", date(2026, 5, 13), 7),
    ],
)
def test_there_is_a_log_only_for_days_on_which_the_exercise_is_ordered(
    stop: str | None, home_on: date | None, days: int
) -> None:
    page = page_of(order=order("07:00", stop, goal_ml=2000), home_on=home_on)
    assert (len(page.log.days) if page.log else 0) == days
    asks_to_go_on = [page.amount.lines[0].startswith("Do "), "Fill in the log" in page.device.value]
    asks_to_go_on += ["Your goal is" in repr(page), "start with the log" in page.no_bests]
    assert asks_to_go_on == [days > 0] * 4
    assert len(read_pdf(discharge_pdf(page)).pages) == (3 if days else 2)


def test_an_order_that_ends_on_the_day_of_going_home_says_whom_to_ask() -> None:
    page = page_of(order=order("07:00", "+1 18:00"), home_on=date(2026, 5, 13))
    assert page.amount.lines == (
        "Your order is 10 breaths every hour while you are awake.",
        "The order ends on 13 May. Ask your nurse or doctor if you should go on at home.",
    )


def test_who_is_on_hold_is_not_asked_to_do_the_exercise() -> None:
    hold = entry("10:00", what="hold", note="Dr Quill: nose bleed")
    page = page_of(hold, order=order("07:00", goal_ml=2000))
    held = "This exercise is on hold. Ask your nurse or doctor before you do it again."
    assert page.amount.lines == (held,)
    assert page.log is None
    assert "nose bleed" not in repr(page)


def test_an_order_that_is_not_on_the_list_any_more_has_ended() -> None:
    lines = discharge_page(without_order_now(DANGER_BEFORE)).amount.lines
    assert lines[-1].startswith("The order ended on 11 May. Ask")


@pytest.mark.parametrize(
    ("lost", "said", "unsaid"),
    [
        ("order_breaths", "Do your breaths as often as your nurse or doctor told you.", "10"),
        ("order_every_h", "Do your breaths as often as your nurse or doctor told you.", "hour"),
        ("order_hold_s", "Hold your breath only as your nurse or doctor told you.", "5 seconds"),
        ("goal_ml", "Do 10 breaths every hour while you are awake.", "best, bit by bit"),
    ],
)
def test_a_part_of_the_order_that_cannot_be_read_is_not_taken_for_the_usual(
    lost: str, said: str, unsaid: str
) -> None:
    part = {"order_breaths": "breaths", "order_every_h": "every_h", "order_hold_s": "hold_s"}
    page = page_of(order=order("07:00", not_known=(part.get(lost, lost),)), unread=(lost,))
    words = " ".join((*page.steps.lines, *page.amount.lines))
    assert said in words
    assert unsaid not in words


def test_an_order_that_states_no_number_gives_none() -> None:
    unstated = ("breaths", "every_h", "hold_s")
    page = page_of(order=order("07:00", goal_ml=1600, unstated=unstated))
    first, *_ = page.amount.lines
    assert first == "Do your breaths as often as your nurse or doctor told you."
    assert page.steps.lines[5].startswith("Hold your breath only as your nurse or doctor told you.")
    assert "Take 2" not in repr(page.amount)


def test_who_has_precautions_is_not_told_to_sit_up_at_home_nor_why() -> None:
    page = page_of(precautions="flat")
    assert (
        page.steps.lines[1] == "Take the position your nurse showed you. Hold the device upright."
    )
    assert "flat" not in repr(page)


@pytest.mark.parametrize("given", GIVEN[:2])
def test_the_numbers_in_the_margin_have_no_hole(given: Handover) -> None:
    """What is not printed, as that there is no best yet, takes no number."""
    (measures,) = results(given).measures.values()
    said = words(given.unit.time_zone)
    page = compose_discharge(given, measures, said, said)
    printed = set(texts(replace(page, language=PageLanguage(""))))
    twins = page.language.twins
    numbers = {twin.number for text, twin in twins.items() if twin.number and text in printed}
    assert sorted(numbers) == list(range(1, len(numbers) + 1))


def test_who_never_began_is_asked_to_start_only_while_it_is_ordered() -> None:
    assert "You can start with the log" in page_of().no_bests
    stopped = page_of(order=order("07:00", "18:00"))
    assert stopped.no_bests == "No number has been written down yet."


def test_the_number_to_call_from_home_or_a_line_to_write_it_on() -> None:
    with_phone, without = page_of(unit=WITH_PHONE), page_of()
    asked = "Your unit is Harbour 3 East. The number to call is:"
    assert f"{asked} 902-555-0144 Nobody answers?" in read_pdf(discharge_pdf(with_phone)).pages[1]
    assert f"{asked} Nobody answers?" in read_pdf(discharge_pdf(without)).pages[1]
    assert ruled_lines(without) == ruled_lines(with_phone) + 1


def test_the_wards_inner_number_is_never_the_one_to_call_from_home() -> None:
    page = page_of(unit=replace(UNIT, phone="ext. 4410"))
    assert page == page_of()
    assert page.unit.value == ""


# What to do where there is danger is common practice; AARC names keeping oxygen on (from memory).


def test_it_says_when_to_call_whom_and_what_to_do_when_nobody_answers() -> None:
    page = page_of()
    assert "You cough up blood." in page.emergency.lines
    assert not any("blood" in line for line in page.call.lines)
    assert "You are more breathless than when you left." in page.call.lines
    assert page.nobody_answers == Fact(
        "Nobody answers?",
        "Call your own doctor or clinic. Do not wait for the next day. If you feel worse or you "
        "are not sure, call emergency services.",
    )
    assert page.steps.lines[0] == "If you use oxygen, keep it on."
    assert "unless your nurse or doctor told you not to" in page.steps.lines[1]


def test_a_birth_date_that_is_not_recorded_is_left_to_fill_in() -> None:
    page = page_of(born=None)
    assert [fact.value for fact in page.identity] == ["Larkspur, Odile", ""]
    assert "Birth date: My breathing log" in read_pdf(discharge_pdf(page)).pages[2]
    assert ruled_lines(page) == ruled_lines(page_of()) + 3


@pytest.mark.parametrize(("count", "shown"), [(0, 0), (1, 1), (2, 2), (7, 7), (20, 7)])
def test_the_picture_shows_the_last_seven_days_at_most(count: int, shown: int) -> None:
    page = page_of(*days(count), order=STAY)
    assert len(page.bests) == shown
    first = read_pdf(discharge_pdf(page)).pages[0]
    if count:
        assert page.bests[-1].day == "12 May"
        assert page.bests[-1].share == 1
        assert all(f"{bar.day} {bar.value}" in first for bar in page.bests)
    assert ("No number has been written down yet." in first) is (count == 0)


def test_a_bar_is_as_long_as_its_number_is_large() -> None:
    page = page_of(*days(2, 500), entry("10:00", volume_ml=2000), order=STAY)
    assert [(bar.value, bar.share) for bar in page.bests] == [("500 mL", 0.25), ("2,000 mL", 1)]


def test_a_best_of_nothing_has_no_bar() -> None:
    (bar,) = page_of(entry("09:00", volume_ml=0), order=STAY).bests
    assert (bar.value, bar.share) == ("0 mL", 0)


def test_a_number_at_the_top_of_the_device_may_be_higher() -> None:
    (bar,) = page_of(entry("09:00", volume_ml=4000), order=STAY).bests
    assert bar.value == "at least 4,000 mL"


# What it never says

STAFF_ONLY = [
    entry(
        "09:00",
        "dizzy faint chest_pain drowsy confused breathless",
        spo2=80,
        resp_rate=40,
        pulse=150,
        temp_c=39.0,
        pain=9,
        flow="blew",
        note="Unsteady, daughter difficult on the phone",
    ),
    entry("09:30", what="declined", note="Would not, again"),
    entry("10:00", what="told", note="Dr Quill told"),
]
FOR_STAFF: dict[str, Any] = {
    "id": "99911",
    "bed": "77Q",
    "reason": "alcohol withdrawal",
    "weight_kg": 120.0,
    "device_labelled": False,
    "shown_back": None,
}


def test_what_is_meant_for_the_staff_changes_nothing_on_it() -> None:
    """Notes, symptoms, signs, refusals, cautions, adherence, id, bed, reason: none gets on it."""
    plain = page_of(*days(6), order=STAY)
    entries = [replace(each, patient_id="99911") for each in (*days(6), *STAFF_ONLY)]
    assert page_of(*entries, order=STAY, **FOR_STAFF) == plain


def test_a_rising_trend_projects_nothing() -> None:
    rising = days(8, 1000, gain_ml=100)
    measures = measure(handover(*rising, patients=(patient(order=STAY),)))["10442"]
    assert measures.goal.days_to_goal is not None
    assert "at this pace" not in repr(page_of(*rising, order=STAY)).lower()


VARIANTS = [discharge_page(each) for each in GIVEN]


def test_the_variants_reach_every_branch_of_the_words() -> None:
    seen: set[str] = set()
    said = WatchedWords(ZONE, seen)
    for each in GIVEN:
        (measures,) = results(each).measures.values()
        compose_discharge(each, measures, said)
    said.compile_all()
    assert {name for name in said.branches - seen if name.startswith("discharge.")} == set()


@pytest.mark.parametrize("page", VARIANTS)
def test_no_abbreviation_and_no_number_that_is_easily_misread(page: DischargePage) -> None:
    for text in read_pdf(discharge_pdf(page)).pages:
        assert [name for name, pattern in FORBIDDEN.items() if pattern.search(text)] == []


@pytest.mark.parametrize("page", VARIANTS)
def test_milliliters_are_the_only_abbreviation_and_are_explained_once(page: DischargePage) -> None:
    text = " ".join(read_pdf(discharge_pdf(page)).pages)
    spoken = re.findall(r"[A-Za-z]+", text)
    assert {word for word in spoken if not re.search("[aeiouy]", word.lower())} <= {"mL"}
    assert re.findall(r"\w\.\w|\betc\b", text.replace("2.5", "")) == []
    assert text.count("milliliters (mL)") == 1
    assert text.index("mL") == text.index("milliliters (mL)") + len("milliliters (")


# How it reads


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # 6 words of 6 syllables; 5 words of 3, 4 (not in the dictionary), 1, 5 and 5. By hand.
        ("The cat sat on the mat.", 0.39 * 6 + 11.8 * 1 - 15.59),
        ("Incentive spirometry needs considerable cooperation.", 0.39 * 5 + 11.8 * 18 / 5 - 15.59),
    ],
)
def test_the_grade_is_that_of_the_formula(text: str, expected: float) -> None:
    assert grade(text) == pytest.approx(expected)


@pytest.mark.parametrize("page", VARIANTS)
def test_it_reads_at_grade_6_or_below(page: DischargePage) -> None:
    text = " ".join(sentences(page))
    assert len(re.findall(r"\w+", text)) > 200
    assert grade(text) <= 6
    # The formula is made for passages: a sentence alone scatters about its text's grade.
    hardest = max(re.findall(r"[A-Z].*?[.?!](?=\s|$)", text), key=grade)
    assert grade(hardest) <= 8, hardest


@pytest.mark.parametrize("page", VARIANTS)
def test_every_line_is_a_whole_sentence(page: DischargePage) -> None:
    for text in sentences(page):
        assert re.fullmatch(r"([A-Z][^.?!]*(\d\.\d[^.?!]*)?[.]\s?)+", text), text


# How it looks


def name_and_wild_text() -> st.SearchStrategy[str]:
    letters = st.characters(categories=["L", "Nd", "P", "Zs"], max_codepoint=0x52F)
    return st.text(letters, max_size=120) | st.text(string.ascii_letters + " -", min_size=120)


@st.composite
def pages(draw: st.DrawFn) -> DischargePage:
    """Any name of 120 characters, phone, order and course of readings."""
    name, phone = (draw(name_and_wild_text())[:120] for _ in range(2))
    ordered = order(
        "-30 07:00",
        draw(st.sampled_from([None, "18:00", "+30 18:00"])),
        breaths=draw(st.integers(1, 200)),
        every_h=draw(st.integers(1, 24)),
        hold_s=draw(st.one_of(st.integers(0, 60), st.floats(0, 60))),
        goal_ml=draw(st.one_of(st.none(), st.floats(1, 6000))),
    )
    readings = days(draw(st.integers(0, 20)), draw(st.integers(0, 5000)))
    unit = replace(UNIT, home_phone=draw(st.sampled_from([None, phone])))
    return page_of(*readings, name=name or "x", order=ordered, unit=unit, device_scale_ml=2500)


@settings(max_examples=few(15), phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(pages(), st.sampled_from(sorted(PAPERS)))
def test_any_log_gives_one_leaf_of_large_print_and_a_page_for_the_log(
    page: DischargePage, paper: str
) -> None:
    read = read_pdf(discharge_pdf(page, paper))
    assert len(read.pages) == (3 if page.log else 2)
    assert "My breathing log" not in "".join(read.pages[:2])
    width, height = PAPERS[paper]
    for piece in (piece for pieces in read.pieces for piece in pieces if piece.text.strip()):
        left, bottom, right, top = piece.box
        assert piece.size >= LEAST_PT
        assert left >= MARGIN_PT - 2
        assert right <= width - MARGIN_PT + 2
        assert bottom >= MARGIN_PT - 5
        assert top <= height - MARGIN_PT + 5


@pytest.mark.parametrize("paper", PAPERS)
def test_the_longest_names_push_the_last_lines_to_the_back_and_cut_nothing(paper: str) -> None:
    name, phone = "Larkspur-Wetherington " * 9, "5550142 " * 25
    unit = Unit("Harbour " * 25, ZONE, None, home_phone=phone)
    page = page_of(*days(7, 6000), name=name, unit=unit, order=order("-9 07:00", goal_ml=6000))
    front, back, *more = read_pdf(discharge_pdf(page, paper)).pages
    assert name.strip() in front
    assert name.strip() in back
    said = " ".join((front, back, *more))
    for part in (phone.strip(), page.bests[-1].value, page.emergency.lines[-1], page.standing):
        assert part in said


def test_a_units_longer_words_go_on_onto_another_page_and_are_never_cut(tmp_path: Path) -> None:
    longer = "Breathe out, and let your shoulders go down. " * 40
    (tmp_path / "discharge.yaml").write_text(f"discharge:\n  steps:\n    out: {longer}\n")
    page = discharge_page(handover(), own_folder=str(tmp_path))
    read = read_pdf(discharge_pdf(page))
    assert len(read.pages) == 4
    assert all("Larkspur, Odile" in text for text in read.pages)
    said = " ".join(read.pages)
    assert longer.strip() in said
    assert page.standing in said


def test_all_pages_carry_name_and_birth_date() -> None:
    for text in read_pdf(discharge_pdf(page_of())).pages:
        assert text.startswith("Name: Larkspur, Odile Birth date: 2 April 1958")


def test_parts_stand_in_reading_order() -> None:
    page = VARIANTS[0]
    front, back, last = read_pdf(discharge_pdf(page)).pages
    parts = [page.title, page.purpose.label, page.steps.title, *page.steps.lines]
    parts += [page.amount.title, *page.amount.lines, page.bests_title, page.bests[0].value]
    places = [front.index(part) for part in parts]
    assert places == sorted(places)
    parts = [fact.label for fact in page.feelings]
    parts += [page.call.title, *page.call.lines, page.emergency.title, *page.emergency.lines]
    parts += [page.unit.value, page.nobody_answers.value, page.device.value, page.standing]
    places = [back.index(part) for part in parts]
    assert places == sorted(places)
    log = page.log
    assert log
    parts = [log.title, log.amount.value, log.how, *log.columns, *log.days, log.bring.value]
    places = [last.index(part) for part in parts]
    assert places == sorted(places)


def test_the_log_has_seven_days_each_with_room_to_write() -> None:
    read = read_pdf(discharge_pdf(page_of()))
    tops = [piece.box[3] for piece in read.pieces[2] if re.fullmatch(r"Day \d", piece.text.strip())]
    assert len(tops) == 7
    assert all(upper - lower >= 40 for upper, lower in pairwise(tops))


def test_fonts_are_embedded_and_it_is_black_and_white() -> None:
    content = discharge_pdf(VARIANTS[0])
    assert read_pdf(content).embedded
    with pikepdf.open(BytesIO(content)) as pdf:
        for page in pdf.pages:
            for step in pikepdf.parse_content_stream(page):
                if str(step.operator) in ("rg", "RG"):
                    assert len({float(str(each)) for each in step.operands}) == 1


def test_title_and_author_hold_nothing_of_a_patient_and_bytes_repeat() -> None:
    content = discharge_pdf(VARIANTS[0])
    assert content == discharge_pdf(VARIANTS[0])
    with pikepdf.open(BytesIO(content)) as pdf:
        assert str(pdf.docinfo["/Title"]) == "to take home"
        assert "Larkspur" not in " ".join(str(value) for _, value in pdf.docinfo.items())
        assert str(pdf.Root.Lang) == "en"


# In which language


def test_another_language_of_the_staff_is_taken_from_its_folder_and_named_in_every_file(
    tmp_path: Path,
) -> None:
    own = tmp_path / "own"
    copytree(ROOT / "templates" / "en", own / "xx")
    text = (own / "xx" / "discharge.yaml").read_text(encoding="utf-8")
    words = text.replace("My breathing log", "Ma feuille de souffle")
    (own / "xx" / "discharge.yaml").write_text(words, encoding="utf-8")
    arguments = ("--language", "xx", "--templates", str(own), "--bed", "1A", "--discharge", "1A")
    assert discharges(tmp_path / "out", *arguments) == ["bed-1A.pdf"]
    files = sorted((tmp_path / "out").rglob("*.pdf"))
    assert len(files) >= 4
    for path in files:
        with pikepdf.open(path) as pdf:
            assert str(pdf.Root.Lang) == "xx"
    read = read_pdf((tmp_path / "out/discharge/bed-1A.pdf").read_bytes())
    assert "Ma feuille de souffle" in read.pages[2]


def test_a_language_without_words_is_a_usage_error(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["sheets", *WARD, "--out", str(tmp_path / "out"), "--language", "tlh"]
    assert cli.main(arguments) == cli.NOTHING_PRODUCED
    said = capsys.readouterr().err.splitlines()[-1]
    assert "tlh" in said
    assert "Type one of these: ar, de, en, es, fr, pl, pt, uk, vi." in said
    assert not (tmp_path / "out").exists()


def test_months_are_written_in_full() -> None:
    said = Words(ZONE)
    assert said.long_day(date(2026, 9, 27)) == "27 September"
    assert said.long_full_day(date(1958, 4, 2)) == "2 April 1958"


def test_who_was_never_taught_is_not_told_to_start_alone() -> None:
    for taught, said in ((True, "You can start"), (False, "Ask your nurse"), (None, "Ask your")):
        page = page_of(taught=taught, shown_back=None)
        assert page.no_bests.split(". ", 1)[1].startswith(said)
        assert "as your nurse showed you" not in page.device.value
