"""The card on the patient's table: one large page, plain words, nothing only for the staff."""

import re
from collections.abc import Sequence
from datetime import date, time
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from handoff.cli import main as cli
from handoff.compose.card import compose_card
from handoff.compose.languages import UnitWords
from handoff.compose.saying import in_both_languages
from handoff.draw.paper import PAPERS, draw_card
from handoff.log.languages import languages_with
from handoff.measure import find_coming
from handoff.model.pages import CardPage, Fact
from handoff.model.ward import Entry, Handover, Unit
from tests.support.builders import UNIT, ZONE, at, entry, order, patient
from tests.support.cards import FAINT, GIVEN, GOOD, HELD, QUIET, STAY, card, of_one, of_orders
from tests.support.grade import grade
from tests.support.how_many import few
from tests.support.logs import ROOT
from tests.support.runs import WARD
from tests.support.sheets import document, is_inside, overlaps, read_pdf, results, texts
from tests.support.tags import Tagged, faults
from tests.support.watched import WatchedWords
from tests.support.wording import misread

LARGE_PT = 18
EARLY = replace(UNIT, quiet_hours=(time(19), time(6)))


def card_of(*entries: Entry, unit: Unit = QUIET, **fields: Any) -> CardPage:
    return card(of_one(*entries, unit=unit, **fields))


def card_pdf(page: CardPage, paper: str = "letter") -> bytes:
    return draw_card(page, document(paper, "cards"))


def boxes(page: CardPage) -> list[list[tuple[str, Sequence[str]]]]:
    return [list(each.days) for each in page.turns]


# What it says


def test_the_whole_card() -> None:
    page = card_of(*GOOD)
    assert (page.name, page.bed, page.wait) == ("Larkspur, Odile", "Bed 12A", "")
    assert page.steps[3] == "Hold your breath for 5 seconds."
    assert page.progress == (
        "Aim for your goal of 2,000 mL, bit by bit. "
        "The best you have done so far is 1,500 mL, on 11 May."
    )
    (turns,) = page.turns
    assert turns.words == (
        "10 breaths every hour while you are awake. Take 2 or 3 at a time, then rest. "
        "Tick one box when all are done."
    )
    assert turns.days == (
        ("12 May:", ("19", "20", "21")),
        ("13 May:", tuple(str(hour) for hour in range(6, 19))),
    )
    assert page.stop.label == "Dizzy, short of breath or in pain?"
    assert page.stop.value.startswith("Stop and rest.")
    assert [(day.label, day.value) for day in page.days] == [
        ("11 May", "1,500 mL"),
        *((f"{day} May", "") for day in range(12, 17)),
    ]
    column = page.column
    assert column
    assert column.goal
    assert column.best
    assert (column.goal.share, column.best.share) == (0.5, 0.375)
    assert [number for _, number in column.numbers] == ["0", "1,000", "2,000", "3,000", "4,000"]


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"breaths": 1, "every_h": 24}, "1 breath once a day. Tick one box when all are done."),
        ({"breaths": 4, "every_h": 3}, "4 breaths every 3 hours while you are awake. Take 2 or 3"),
    ],
)
def test_the_amount_is_as_ordered(fields: dict[str, Any], said: str) -> None:
    assert card_of(order=order("07:00", **fields)).turns[0].words.startswith(said)


def test_once_a_day_has_one_box_without_an_hour() -> None:
    assert boxes(card_of(order=order("07:00", every_h=24))) == [[("12 May:", ("",))]]


def test_an_order_of_tomorrow_has_its_own_boxes_from_its_time_on() -> None:
    page = card(of_orders(order("07:00"), order("+1 13:30", breaths=3, every_h=2)))
    first, later = page.turns
    assert first.days[-1] == ("13 May:", tuple(map(str, range(6, 14))))
    assert later.words.startswith("From 13:30 on 13 May: 3 breaths every 2 hours while you are")
    assert later.days == (("13 May:", ("13:30", "15:30", "17:30")),)


@pytest.mark.parametrize(
    "fields",
    [{"not_known": ("breaths",)}, {"not_known": ("stop",)}, {"unstated": ("breaths", "every_h")}],
)
def test_what_is_not_stated_or_cannot_be_read_has_no_number_and_no_box(
    fields: dict[str, Any],
) -> None:
    page = card_of(order=order("07:00", goal_ml=2000, **fields))
    (turns,) = page.turns
    assert turns.words == "Do your breaths as often as your nurse or doctor told you."
    assert turns.days == ()
    assert len(read_pdf(card_pdf(page)).pages) == 1


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"hold_s": 1}, "Hold your breath for 1 second."),
        ({"hold_s": 0}, "Hold your breath only if you were told to."),
        ({"unstated": ("hold_s",)}, "Hold your breath as long as you were told."),
        ({"not_known": ("hold_s",)}, "Hold your breath as long as you were told."),
    ],
)
def test_the_hold_is_as_ordered_or_left_to_what_was_told(fields: dict[str, Any], said: str) -> None:
    assert card_of(order=order("07:00", **fields)).steps[3] == said


@pytest.mark.parametrize(
    ("entries", "fields", "said"),
    [
        ((), {}, "No best has been written down yet."),
        ((), {"taught": None, "shown_back": False}, "Ask your nurse to show you how before you"),
        ((entry("09:00", volume_ml=1000),), {"order": order("07:00")}, "No goal has been set."),
        ((entry("09:00", volume_ml=2000),), {}, "Your goal is 2,000 mL, and you have reached it."),
        (
            (entry("09:00", volume_ml=4000),),
            {},
            "The best you have done so far is at least 4,000 mL, the top of your device.",
        ),
        (
            (),
            {"device_scale_ml": 1500},
            "Your goal of 2,000 mL is more than your device can show. Ask your nurse.",
        ),
        ((), {"unread": ("goal_ml",)}, "Ask your nurse what your goal is."),
    ],
)
def test_goal_and_best_have_their_own_words(
    entries: tuple[Entry, ...], fields: dict[str, Any], said: str
) -> None:
    page = card_of(*entries, **fields)
    assert said in page.progress
    assert len(read_pdf(card_pdf(page)).pages) == 1


def test_the_baseline_is_no_goal() -> None:
    page = card_of(order=order("07:00"), baseline_ml=1900)
    assert "1,900" not in repr(page)
    assert page.column
    assert page.column.goal is None


def test_a_goal_above_the_scale_is_an_arrow_over_the_column() -> None:
    column = card_of(device_scale_ml=1500).column
    assert column
    assert column.goal
    assert (column.goal.share, column.goal.over) == (1, True)


def test_a_scale_that_is_not_recorded_has_no_number_and_no_top() -> None:
    column = card_of(*GOOD, device_scale_ml=None).column
    assert column
    assert column.numbers == ()
    assert column.goal
    assert column.best
    assert 1 > column.goal.share == pytest.approx(column.best.share / 0.75)
    assert card_of(order=order("07:00"), device_scale_ml=None).column is None


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (of_one(*GOOD, HELD), "Your exercise is on hold."),
        (of_one(*GOOD, FAINT), "Ask your nurse before you do this exercise."),
        (of_one(*GOOD, order=replace(STAY, comfort_care=True, by="Dr Q")), "Ask your nurse before"),
        (
            of_orders(STAY, replace(STAY, start=at("+1 12:00"), comfort_care=True, by="Dr Q")),
            "Ask your nurse before",
        ),
        (of_one(*GOOD, order=order("-3 07:00", "18:00", goal_ml=2000)), "Your order for this"),
        (of_one(*GOOD, order=order("-3 07:00", "+1 02:00"), unit=EARLY), "Ask your nurse before"),
        (of_one(order=order("+2 07:00", goal_ml=2000)), "Your exercise starts on 14 May."),
    ],
)
def test_who_waits_is_coached_in_nothing_and_not_told_why(given: Handover, said: str) -> None:
    page = card(given)
    assert page.wait.startswith(said)
    assert (page.steps, page.turns, page.days) == ((), (), ())
    assert "goal" not in repr(page).replace("goal=None", "")
    assert "nose" not in repr(page)
    assert page.stop.value.startswith("Stop and rest.")
    assert len(read_pdf(card_pdf(page)).pages) == 1


def test_the_best_of_the_card_s_own_first_day_is_left_to_be_written() -> None:
    page = card_of(*(entry(f"-{day} 09:00", volume_ml=1000 + day) for day in range(6)), order=STAY)
    assert [day.value for day in page.days] == ["1,003 mL", "1,002 mL", "1,001 mL", "", "", ""]


def test_a_best_of_a_day_whose_cell_is_blank_bears_no_date() -> None:
    """Else the sentence and the table under it would say different things of that day."""
    page = card_of(entry("09:00", volume_ml=1200))
    assert (page.days[0].label, page.days[0].value) == ("12 May", "")
    assert page.progress.endswith("The best you have done is 1,200 mL so far.")
    over = card(replace(of_one(entry("09:00", volume_ml=1200)), as_of=at("23:00")))
    assert (over.days[0].label, over.days[0].value) == ("12 May", "1,200 mL")
    assert over.progress.endswith("is 1,200 mL, on 12 May.")


def test_a_goal_that_changes_in_the_coming_day_is_said_with_its_order() -> None:
    one, other = order("07:00", goal_ml=1000), order("+1 12:00", goal_ml=1500)
    first, later = card(of_orders(one, other)).turns
    assert "goal" not in first.words
    assert later.words.endswith("The goal to aim for is 1,500 mL from then on.")
    _, same = card(of_orders(one, replace(other, goal_ml=1000, breaths=5))).turns
    assert "goal" not in same.words
    _, unread = card(of_orders(one, replace(other, not_known=("goal_ml",)))).turns
    assert "goal" not in unread.words


# What it never says

FOR_STAFF: dict[str, Any] = {
    "id": "99911",
    "born": None,
    "reason": "alcohol withdrawal",
    "precautions": "flat, spine not cleared",
    "sex": "female",
    "height_cm": 150.0,
    "weight_kg": 120.0,
    "device_labelled": False,
    "home_on": None,
    "language": "en",
}


def test_what_is_meant_for_the_staff_changes_nothing_on_it() -> None:
    """Reason, precautions, id, birth date, signs, symptoms, notes, refusals: none gets on it."""
    known = {field: value for field, value in FOR_STAFF.items() if hasattr(patient(), field)}
    seen = [*GOOD, entry("13:00", "cough", pain=4, spo2=97, note="daughter difficult")]
    seen += [entry("14:00", what="declined", note="would not, again")]
    entries = [replace(each, patient_id="99911") for each in seen]
    assert card_of(*entries, **known) == card_of(*GOOD, precautions="sternal")


@pytest.mark.parametrize("fields", [{"precautions": "flat"}, {"unread": ("precautions",)}])
def test_who_has_precautions_is_not_told_to_sit_up_nor_why(fields: dict[str, Any]) -> None:
    page = card_of(*GOOD, **fields)
    assert page.steps[0] == "Take the position your nurse showed you. Hold the device upright."
    assert "flat" not in repr(page)
    with (
        pikepdf.open(BytesIO(card_pdf(page))) as pdf,
        pikepdf.open(BytesIO(card_pdf(VARIANTS[0]))) as sitting,
    ):
        drawn, usual = (len(pikepdf.parse_content_stream(each.pages[0])) for each in (pdf, sitting))
    assert drawn < usual


def test_initials_stand_for_the_name() -> None:
    page = card(of_one(*GOOD), initials=True)
    assert page.name == "L. O."
    assert "Larkspur" not in read_pdf(card_pdf(page)).pages[0]


# How it reads

VARIANTS = [card(each) for each in GIVEN]


def test_the_variants_reach_every_branch_of_the_words() -> None:
    seen: set[str] = set()
    said = WatchedWords(ZONE, seen)
    for each in GIVEN:
        card(each, said)
    said.compile_all()
    assert {name for name in said.branches - seen if name.startswith("card.")} == set()


def sentences(page: CardPage) -> str:
    amounts = [re.sub(r"^From [^:]*(:\d\d)? on \d+ \w+: ?", "", each.words) for each in page.turns]
    said = (page.wait, *page.steps, page.progress, *amounts, page.stop.label, page.stop.value)
    return " ".join(filter(None, (*said, page.foot.partition("Card of")[0])))


@pytest.mark.parametrize("page", VARIANTS)
def test_it_reads_at_grade_6_or_below(page: CardPage) -> None:
    text = sentences(page)
    assert grade(text) <= 6
    # The formula is made for passages: a sentence alone scatters about its text's grade.
    hardest = max(re.findall(r"[A-Z0-9].*?[.?!](?=\s|$)", text), key=grade)
    assert grade(hardest) <= 8, hardest
    assert misread(page) == []


# How it looks


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("page", [*VARIANTS[:5], VARIANTS[8], VARIANTS[9]])
def test_it_is_one_page_in_large_print_within_the_margins(page: CardPage, paper: str) -> None:
    read = read_pdf(card_pdf(page, paper))
    (pieces,) = ([piece for piece in each if piece.text.strip()] for each in read.pieces)
    assert min(piece.size for piece in pieces) >= LARGE_PT
    assert all(is_inside(piece, PAPERS[paper]) for piece in pieces)
    assert list(overlaps(pieces)) == []
    assert read.embedded


@settings(max_examples=few(10), phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(
    st.text(st.characters(categories=["L", "Zs"], max_codepoint=0x52F), min_size=1, max_size=120),
    st.integers(1, 6),
    st.sampled_from(sorted(PAPERS)),
)
def test_any_name_and_order_fit_one_page(name: str, every_h: int, paper: str) -> None:
    both = of_orders(order("07:00", goal_ml=5999), order("+1 10:30", breaths=200, every_h=every_h))
    given = replace(both, unit=UNIT, patients=(replace(both.patients[0], name=name, bed=name),))
    read = read_pdf(card_pdf(card(given), paper))
    (pieces,) = read.pieces
    assert all(is_inside(piece, PAPERS[paper]) for piece in pieces if piece.text.strip())


def test_words_that_are_longer_by_half_still_fit_one_page_and_much_longer_ones_are_not_cut(
    tmp_path: Path,
) -> None:
    steps = {"sit": 30, "lips": 20, "in": 20, "rest": 20}
    lines = "".join(f"    {name}: {'wordier ' * count}\n" for name, count in steps.items())
    (tmp_path / "card.yaml").write_text(f"card:\n  steps:\n{lines}", encoding="utf-8")
    assert len(read_pdf(card_pdf(card(of_one(*GOOD), own=str(tmp_path)), "a4")).pages) == 1
    much = tmp_path / "much"
    much.mkdir()
    (much / "card.yaml").write_text(f"card:\n  foot: {'wordier ' * 600}\n", encoding="utf-8")
    read = read_pdf(card_pdf(card(of_one(*GOOD), own=str(much))))
    assert sum(page.count("wordier") for page in read.pages) == 600


def test_what_is_drawn_is_black_and_white_and_bytes_repeat() -> None:
    content = card_pdf(VARIANTS[0])
    assert content == card_pdf(VARIANTS[0])
    with pikepdf.open(BytesIO(content)) as pdf:
        assert "Larkspur" not in " ".join(str(value) for _, value in pdf.docinfo.items())


def test_all_words_of_the_page_are_printed() -> None:
    for page in (VARIANTS[0], VARIANTS[9]):
        printed = read_pdf(card_pdf(page)).pages[0]
        unspoken = {page.column.alt if page.column else "", *(each.alt for each in page.turns)}
        assert [text for text in texts(page) if text not in unspoken and text not in printed] == []


def test_it_is_heard_in_order_and_conforms_to_both_standards() -> None:
    read = Tagged(card_pdf(VARIANTS[0]))
    assert [line.strip().partition(":")[0] for line in read.lines()] == [
        *("Document", "P", "P", "H1", "Figure", "L", *["LI", "LBody"] * 5, "P", "P", "Figure", "P"),
        *("H2", "Table", "TR", *["TH column"] * 6, "TR", "TD", *["TD"] * 5, "P"),
    ]
    assert (read.untagged, read.faults, read.decoration) == ([], [], [[]])
    figures = [each.alt for each in read.root.all() if each.role == "Figure"]
    assert figures[0] == (
        "A drawn column from 0 to 4,000 mL, with your goal at 2,000 mL and your best at 1,500 mL "
        "marked on its side."
    )
    assert figures[1].startswith("16 boxes to tick, for 12 May: 19, 20, 21; 13 May: 6, 7")
    for page in (VARIANTS[0], VARIANTS[7], VARIANTS[9]):
        assert faults(card_pdf(page)) == []


# In the patient's language


@pytest.mark.parametrize(("code", "name"), [("es", "Spanish"), ("ar", "Arabic")])
def test_a_patients_card_comes_in_both_languages_each_thing_at_the_same_place(
    tmp_path: Path, code: str, name: str
) -> None:
    """From a folder of the hospital's own, whose words are the English ones."""
    (tmp_path / code).mkdir()
    forms = "".join(f", {form}='x'" for form in ("zero", "two", "few", "many"))
    text = (ROOT / "templates" / "en" / "card.yaml").read_text(encoding="utf-8")
    text = re.sub(r"other='\w+'", lambda form: form[0] + forms, text)
    text = text.replace("My breathing exercise", "Exercise of mine")
    (tmp_path / code / "card.yaml").write_text(text, encoding="utf-8")
    of_unit = UnitWords(ZONE, "en", str(tmp_path))
    given = of_one(*GOOD)
    found = results(given)
    coming = find_coming(given, found.measures["10442"])
    pages = in_both_languages(
        of_unit.of(patient(language=code)), partial(compose_card, found, coming)
    )
    theirs, ours = pages
    assert (theirs.title, ours.title) == ("Exercise of mine", "My breathing exercise")
    assert name in theirs.language.warning
    assert ours.language.for_staff[0].startswith(f"The patient has this card in {name}.")
    content = draw_card(theirs, document(), ours)
    read = read_pdf(content)
    assert len(read.pages) == 2
    assert all(is_inside(piece, PAPERS["letter"]) for pieces in read.pieces for piece in pieces)
    assert faults(content) == []
    sizes = [max(piece.size for piece in pieces) for pieces in read.pieces]
    assert sizes[0] == sizes[1]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("code", languages_with("card.yaml"))
def test_the_longest_card_of_every_language_is_one_page_of_letters_large_enough(
    code: str, paper: str
) -> None:
    both = of_orders(order("07:00", goal_ml=5000), order("+1 10:30", breaths=20, every_h=2))
    one = replace(both.patients[0], name="Larkspur-Wetherington, Odile Amaranthe", language=code)
    given = replace(both, unit=UNIT, patients=(one,))
    found = results(given)
    coming = find_coming(given, found.measures[one.id])
    pages = in_both_languages(UnitWords(ZONE).of(one), partial(compose_card, found, coming))
    read = read_pdf(draw_card(pages[0], document(paper), *pages[1:]))
    assert len(read.pages) == len(pages)
    # Clear print is 14 pt; what is at the foot for the staff is smaller.
    smallest = [min(each.size for each in pieces if each.size > 10) for pieces in read.pieces]
    assert min(smallest) >= 14


def test_no_word_in_the_table_of_days_is_broken() -> None:
    """Of the longest month in a translation, on the narrower paper."""
    said = UnitWords(ZONE).of(patient(language="es"))
    days = [Fact(said.long_day(date(2026, 9, day)), "al menos 4000 mL") for day in range(10, 16)]
    read = read_pdf(card_pdf(replace(VARIANTS[0], days=tuple(days)), "a4"))
    words = [word for page in read.pages for word in page.split()]
    assert (words.count("septiembre"), words.count("menos")) == (6, 6)


# The command


def test_the_command_prints_a_card_for_each_bed_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "cards"
    beds = ("--bed", "1A", "--bed", "4B")  # in English; in Arabic, with the English one
    assert cli.main(["card", *WARD, *beds, "--initials", "--out", str(out)]) == cli.DONE
    assert capsys.readouterr().out == f"2 cards: bedside-cards.pdf in {out}\n"
    first, in_arabic, second = read_pdf((out / "bedside-cards.pdf").read_bytes()).pages
    assert first.startswith("Κ. Ε. Bed 1A")
    assert "F. S" in in_arabic
    assert "Bed" not in in_arabic
    assert second.startswith("F. S. Bed 4B")
    assert cli.main(["card", *WARD, "--bed", "4B", "--out", str(out)]) == cli.DONE  # once more
    assert len(read_pdf((out / "bedside-cards.pdf").read_bytes()).pages) == 2
    (tmp_path / "measures.json").touch()
    assert cli.main(["card", *WARD, "--out", str(tmp_path)]) == cli.NOTHING_PRODUCED
    assert "holds other files" in capsys.readouterr().err
    assert cli.main(["card", *WARD, "--bed", "99Z", "--out", "x"]) == cli.NOTHING_PRODUCED
    assert "no patient in bed 99Z" in capsys.readouterr().err
