"""Pages for patients in their language, with the staff's beside them, sentence by sentence."""

from collections.abc import Callable
from datetime import date
from functools import cache, partial
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from shutil import copytree
from typing import Any

import pikepdf
import pytest
from babel import Locale
from babel.dates import format_skeleton
from babel.numbers import format_decimal
from msgspec.structs import replace

from handoff.cli import main as cli
from handoff.compose.discharge import compose_discharge
from handoff.compose.languages import UnitWords, not_translated
from handoff.compose.saying import in_both_languages
from handoff.compose.words import WordingError, Words
from handoff.draw.paper import PAPERS, draw_discharge
from handoff.draw.paper.canvas import MARGIN_PT
from handoff.draw.paper.typeface import TypeStyle
from handoff.draw.paper.typeset import _kept_together
from handoff.log.languages import language_among
from handoff.model.pages import DischargePage
from handoff.model.ward import Handover
from handoff.model.wording import shipped_templates
from tests.support.builders import ZONE, order, patient
from tests.support.bundles import checked
from tests.support.full_log import FULL
from tests.support.going_home import GIVEN, WITH_PHONE, days, of_one
from tests.support.logs import log_of
from tests.support.runs import WARD
from tests.support.sheets import TYPESETTER, document, read_pdf, results, texts
from tests.support.sources import NOTED, faults, noted
from tests.support.translated import CODES, EVERY, TRANSLATED, words_in
from tests.support.written_bundles import bundle_of
from tests.tools.translated import note

LEAST_PT, FOOT_PT = 16, MARGIN_PT + 40
LEAST_ACROSS_PT = 500
# Seven days, the longest numbers and an order that ends: as much as the page ever has.
MOST = of_one(
    *days(7, 4000),
    order=order("-30 07:00", "+20 20:00", goal_ml=4500, hold_s=2.5),
    unit=WITH_PHONE,
    device_scale_ml=4000,
)


def both(given: Handover, words: Words) -> tuple[DischargePage, ...]:
    (measures,) = results(given).measures.values()
    return in_both_languages(words, partial(compose_discharge, given, measures))


@cache
def pages(code: str, number: int = 0) -> tuple[DischargePage, ...]:
    return both((*EVERY, MOST)[number], words_in(code))


def pdf(two: tuple[DischargePage, ...], paper: str = "letter") -> bytes:
    page, *beside = two
    return draw_discharge(page, document(paper, "home"), *beside)


# Which language


@pytest.mark.parametrize(
    ("language", "asked", "code"),
    [
        (None, "en", "en"),
        ("es", "en", "es"),
        (None, "es", "es"),
        ("pl", "es", "pl"),
        ("en", "es", "en"),
        ("es-MX", "en", "es"),
        ("PT-br", "en", "pt"),
        ("so", "en", "en"),  # Somali, in which there are no words
        ("so", "es", "en"),  # and not in Spanish, which nobody asked for
    ],
)
def test_the_patients_language_is_taken_else_the_option(
    language: str | None, asked: str, code: str
) -> None:
    of_unit = UnitWords(ZONE, asked)
    assert of_unit.of(patient(language=language)).language == code
    assert of_unit.staff.language == "en"


def test_a_region_or_script_falls_back_to_its_language_and_no_further() -> None:
    assert language_among("zh-Hant-HK", ["en", "zh-Hant"]) == "zh-Hant"
    assert language_among("zh", ["zh-Hant"]) is None


def test_the_option_chooses_and_the_sheets_stay_in_the_staffs_language(tmp_path: Path) -> None:
    arguments = (
        "--language",
        "fr",
        "--bed",
        "1A",
        "--discharge",
        "1A",
        "--out",
        str(tmp_path / "out"),
    )
    assert cli.main(["sheets", WARD[-1], *arguments]) == cli.DONE
    home = read_pdf((tmp_path / "out/discharge/bed-1A.pdf").read_bytes()).pages
    assert "Votre exercice de respiration" in home[0]
    assert "Your breathing exercise at home" in home[4]
    sheet = read_pdf((tmp_path / "out/patients/bed-1A.pdf").read_bytes()).pages[0]
    assert "Situation" in sheet


def lines_across(content: bytes) -> list[list[float]]:
    """The heights of the horizontal lines of each page that are as wide as its text."""
    heights = []
    with pikepdf.open(BytesIO(content)) as file:
        for page in file.pages:
            ends: list[tuple[float, float]] = []
            across = []
            for step in pikepdf.parse_content_stream(page):
                if str(step.operator) in {"m", "l"}:
                    ends.append((float(step.operands[0]), float(step.operands[1])))
                if str(step.operator) == "l":
                    (left, low), (right, high) = ends[-2:]
                    if low == high and abs(right - left) > LEAST_ACROSS_PT:
                        across.append(low)
            heights.append(sorted(across))
    return heights


def test_a_line_to_write_on_and_that_of_the_foot_are_one() -> None:
    for heights in lines_across(pdf(pages("ar"))):
        assert all(high - low > 12 for low, high in pairwise(heights)), heights


# Side by side


def numbered(page: DischargePage) -> dict[int, list[str]]:
    found: dict[int, list[str]] = {}
    for words, twin in page.language.twins.items():
        found.setdefault(twin.number, []).append(words)
    return found


@pytest.mark.parametrize("code", TRANSLATED)
def test_the_same_number_is_the_same_sentence_in_both_languages(code: str) -> None:
    for number in range(len(EVERY) + 1):
        page, beside = pages(code, number)
        for words, twin in page.language.twins.items():
            there = beside.language.twins[twin.words]
            assert (there.number, there.words) == (twin.number, words)
        assert set(numbered(page)) == set(numbered(beside))


@pytest.mark.parametrize("code", TRANSLATED)
def test_every_sentence_is_numbered_and_none_is_left_out(code: str) -> None:
    for number in range(len(EVERY) + 1):
        page, _ = pages(code, number)
        bars = {text for bar in page.bests for text in (bar.day, bar.value)}
        apart = {*bars, *(text for fact in page.identity for text in (fact.label, fact.value))}
        apart |= {page.language.code, page.language.warning, *page.language.for_staff, ""}
        assert {text for text in texts(page) if text not in apart} <= set(page.language.twins)
        numbers = sorted(each for each in numbered(page) if each)
        assert numbers == list(range(1, len(numbers) + 1))


def test_both_pages_have_each_sentence_at_the_same_height() -> None:
    read = read_pdf(pdf(pages("de", len(EVERY))))
    for own, beside in ((0, 4), (1, 5), (2, 6)):
        assert margin_numbers(read.pieces[own]) == margin_numbers(read.pieces[beside])
        assert len(margin_numbers(read.pieces[own])) > 4


def margin_numbers(pieces: Any) -> dict[str, float]:
    """Where the small numbers stand, from the bottom."""
    found = [each for each in pieces if each.size < 9 and each.text.strip().isdigit()]
    return {each.text.strip(): round(each.box[1]) for each in found}


def test_a_patient_who_speaks_the_staffs_language_has_one_page_without_numbers() -> None:
    (page,) = pages("en")
    assert page.language.twins == {}
    assert len(read_pdf(pdf((page,))).pages) == 3


# Each language on paper


@pytest.mark.parametrize(
    ("code", "paper"), [*((each, "letter") for each in TRANSLATED), ("de", "a4")]
)
def test_each_language_fits_a_leaf_and_a_log_in_large_print(code: str, paper: str) -> None:
    """And the staff's page the same, on leaves of its own: the log's back is blank."""
    read = read_pdf(pdf(pages(code, len(EVERY)), paper))
    assert len(read.pages) == 7
    assert read.pages[3] == ""
    assert read.embedded
    width, height = PAPERS[paper]
    for pieces in read.pieces:
        for each in pieces:
            left, bottom, right, top = each.box
            is_of_staff = each.size < LEAST_PT  # a sentence's number, or at the foot
            assert not is_of_staff or bottom < FOOT_PT or each.text.strip().isdigit()
            assert is_of_staff or (left > MARGIN_PT - 2 and right < width - MARGIN_PT + 2)
            assert 10 < left <= right < width - 10
            assert 15 < bottom <= top < height - MARGIN_PT + 5


# Checked by a clinician


def own_words(folder: Path, code: str, block: str) -> Words:
    (folder / code).mkdir(parents=True)
    (folder / code / "discharge.yaml").write_text(f"language: {{{block}}}\n", encoding="utf-8")
    return UnitWords(ZONE, "en", str(folder)).of(patient(language=code))


NOT_CHECKED = "This Polish translation has not been checked by a clinician who speaks Polish."


def test_while_nobody_has_checked_it_both_pages_say_so_at_their_foot() -> None:
    page, beside = pages("pl")
    assert page.language.warning.startswith("Tego polskiego tłumaczenia nie sprawdził")
    (told,) = page.language.for_staff
    assert told.startswith(NOT_CHECKED)
    assert beside.language.for_staff[1] == told
    assert beside.language.for_staff[0].startswith("The patient has this page in Polish.")
    read = read_pdf(pdf((page, beside)))
    for number in (0, 1, 2, 4, 5, 6):
        assert NOT_CHECKED in read.pages[number]
        assert ("Tego polskiego tłumaczenia" in read.pages[number]) is (number < 3)


@pytest.mark.parametrize(
    ("block", "is_checked"),
    [
        ("checked_by: K. Nowak RN, checked_on: 2099-01-01", True),
        ("checked_by: K. Nowak RN", False),
        ("checked_on: 2099-01-01", False),
        ("checked_by: K. Nowak RN, checked_on: 2020-01-01", False),  # the words changed since
    ],
)
def test_a_unit_says_in_its_own_folder_who_checked_it_and_when(
    tmp_path: Path, block: str, is_checked: bool
) -> None:
    page, beside = both(GIVEN[0], own_words(tmp_path, "pl", block))
    assert (page.language.warning == "") is is_checked
    assert len(page.language.for_staff) == (0 if is_checked else 1)
    assert len(beside.language.for_staff) == (1 if is_checked else 2)  # and is printed all the same


def test_a_day_of_checking_that_is_no_date_is_refused(tmp_path: Path) -> None:
    words = own_words(tmp_path, "pl", "checked_by: K. Nowak RN, checked_on: in March")
    with pytest.raises(WordingError) as raised:
        both(GIVEN[0], words)
    assert raised.value.why.place.column == "language.checked_on"


def test_nobody_is_named_as_having_checked_what_is_shipped() -> None:
    for code in CODES:
        assert not words_in(code).is_checked("discharge")


# A unit's own language


def copied(folder: Path, code: str = "tlh") -> Path:
    copytree(shipped_templates() / "vi", folder / code)
    return folder / code


def test_a_language_is_a_folder(tmp_path: Path) -> None:
    copied(tmp_path)
    words = UnitWords(ZONE, "en", str(tmp_path)).of(patient(language="tlh"))
    page, beside = both(GIVEN[0], words)
    assert page.title == pages("vi")[0].title
    assert beside.title == pages("vi")[1].title


def test_a_language_that_lacks_words_is_refused_by_the_name_of_the_first(tmp_path: Path) -> None:
    path = copied(tmp_path) / "discharge.yaml"
    kept = [line for line in path.read_text("utf-8").splitlines() if "    out:" not in line]
    path.write_text("\n".join(kept), encoding="utf-8")
    with pytest.raises(WordingError) as raised:
        UnitWords(ZONE, "tlh", str(tmp_path)).of(patient())
    assert raised.value.why.code == "missing-words"
    assert "discharge.steps.out" in raised.value.why.message


def test_a_sentence_that_a_unit_changed_only_in_english_is_the_shipped_one_on_both_pages(
    tmp_path: Path,
) -> None:
    own = "discharge:\n  title: Your breathing at home\n  steps: {out: Blow the air out.}\n"
    (tmp_path / "discharge.yaml").write_text(own, encoding="utf-8")
    (tmp_path / "es").mkdir()
    translated = "discharge: {title: Su respiración en casa}\n"
    (tmp_path / "es" / "discharge.yaml").write_text(translated, encoding="utf-8")
    of_unit = UnitWords(ZONE, "en", str(tmp_path))
    page, beside = both(GIVEN[0], of_unit.of(patient(language="es")))
    assert (page.title, beside.title) == ("Su respiración en casa", "Your breathing at home")
    assert page.steps.lines[2] == pages("es")[0].steps.lines[2]
    assert beside.steps.lines[2] == pages("es")[1].steps.lines[2]
    (alone,) = both(GIVEN[0], of_unit.staff)
    assert alone.steps.lines[2] == "Blow the air out."
    (found,) = not_translated([patient(language="es")], "en", str(tmp_path))
    assert (found.code, found.place.column) == ("words-not-translated", "discharge.steps.out")


# From which English


@pytest.mark.parametrize("code", TRANSLATED)
def test_no_sentence_is_missing_doubled_or_stale(code: str) -> None:
    assert list(faults(shipped_templates() / code)) == []


def line_of(path: Path, key: str) -> tuple[list[str], int]:
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    return lines, next(number for number, line in enumerate(lines) if line.startswith(key))


@pytest.mark.parametrize("kind", ["missing", "doubled", "left over", "stale", "changed"])
def test_a_sentence_that_is_wrong_is_named(tmp_path: Path, kind: str) -> None:
    folder = copied(tmp_path)
    lines, number = line_of(folder / "discharge.yaml", "  title:")
    if kind in {"missing", "left over"}:
        lines[number] = lines[number].replace("title", "titel") if kind == "left over" else ""
    elif kind == "doubled":
        lines.insert(number, lines[number])
    elif kind == "changed":
        lines[number] = "  title: Khác\n"
    else:
        digests, at = line_of(folder / NOTED, "discharge.title")
        digests[at] = "discharge.title: 00000000 " + digests[at].split()[-1] + "\n"
        (folder / NOTED).write_text("".join(digests), encoding="utf-8")
    (folder / "discharge.yaml").write_text("".join(lines), encoding="utf-8")
    said = {
        "missing": ["discharge.title: missing"],
        "left over": ["discharge.title: missing", "discharge.titel: not in English"],
        "stale": ["discharge.title: the English changed since it was translated"],
        "changed": ["discharge.title: changed since it was noted"],
    }
    found = list(faults(folder))
    if kind == "doubled":
        assert found[0].startswith("title: the field is written more than once")
    else:
        assert found == said[kind]


def test_a_sentence_whose_english_changed_is_noted_only_when_it_is_still_right(
    tmp_path: Path,
) -> None:
    folder = copied(tmp_path)
    digests, at = line_of(folder / NOTED, "discharge.title")
    digests[at] = "discharge.title: 00000000 " + digests[at].split()[-1] + "\n"
    (folder / NOTED).write_text("".join(digests), encoding="utf-8")
    today = date(2099, 1, 1)
    assert note(folder, frozenset(), today) == ["discharge.title"]
    assert noted(folder)["discharge.title"][0] == "00000000"
    assert note(folder, frozenset(["discharge.title"]), today) == []
    assert list(faults(folder)) == []
    assert "changed_on: 2099" not in (folder / "discharge.yaml").read_text("utf-8")


def test_the_day_of_a_language_is_that_of_its_last_change(tmp_path: Path) -> None:
    folder = copied(tmp_path)
    lines, number = line_of(folder / "discharge.yaml", "  title:")
    lines[number] = "  title: Khác\n"
    (folder / "discharge.yaml").write_text("".join(lines), encoding="utf-8")
    assert note(folder, frozenset(), date(2099, 1, 1)) == []
    assert "  changed_on: 2099-01-01\n" in (folder / "discharge.yaml").read_text("utf-8")


# As Unicode's CLDR has it, read by Babel: plurals, months, signs


@pytest.mark.parametrize("code", CODES)
def test_the_form_that_goes_with_a_number_is_that_of_cldr(code: str) -> None:
    words, locale = words_in(code), Locale.parse(code)
    for number in (*range(201), 0.5, 1.5, 2.5, 59.5):
        assert words.say("language.plural", n=number) == locale.plural_form(number), number


@pytest.mark.parametrize("code", CODES)
def test_months_are_those_of_cldr(code: str) -> None:
    """As they stand within a date. The sheets have the day before the month in English too."""
    for month, name in Locale.parse(code).months["format"]["wide"].items():
        said = words_in(code).long_day(date(2026, month, 2))
        assert (
            said == f"2 {name}"
            if code == "en"
            else said.endswith(format_skeleton("MMMMd", date(2026, month, 2), locale=code))
        )


@pytest.mark.parametrize("code", CODES)
def test_numbers_have_the_signs_of_cldr(code: str) -> None:
    """Spanish and Polish part thousands from five digits on (`minimumGroupingDigits` of CLDR, which
    Babel does not tell): no volume has so many.
    """
    words = words_in(code)
    assert written(words, "number", 2.5) == format_decimal(2.5, locale=code)
    volume = written(words, "volume", 4500).removesuffix(words.say("language.milliliters"))
    parted = "4500" if code in {"es", "pl"} else format_decimal(4500, locale=code)
    assert volume.rstrip() == parted


def written(words: Words, how: str, number: float) -> str:
    """A number as a template writes it."""
    write: Callable[[float], str] = words._filters[how]  # type: ignore[assignment]
    return write(number)


def test_a_number_is_never_parted_from_what_follows_it_by_the_end_of_a_line() -> None:
    for code in CODES:
        volume = written(words_in(code), "volume", 4500)
        assert _kept_together(f"abc {volume}") == ["abc", volume]


# From right to left


def drawn(text: str, width: float = 500.0, **given: str) -> list[str]:
    """The lines as they are drawn, from left to right, on a page that runs from right to left."""
    lines = TYPESETTER.running(from_right=True).break_lines(text, TypeStyle(16), width, **given)
    return ["".join(letters for _, letters in line.runs) for line in lines]


PHONES = ["902-555-0144", "+1 902 555 0144", "(902) 555-0144 ext. 12"]


@pytest.mark.parametrize("phone", PHONES)
def test_a_phone_number_keeps_its_order_among_arabic_letters(phone: str) -> None:
    """The groups of digits would be turned around with the words about them."""
    given = of_one(order=order("07:00"), unit=replace(WITH_PHONE, home_phone=phone))
    page, _ = both(given, words_in("ar"))
    assert page.unit.value.strip("\u2068\u2069") == phone
    (line,) = drawn(page.unit.value)
    assert line == phone
    together = drawn(page.unit.value, lead=page.unit.label)
    assert phone in together[-1]


@pytest.mark.parametrize("phone", PHONES)
def test_without_its_marks_it_would_be_turned_around(phone: str) -> None:
    assert phone not in drawn(f"اتصلوا {phone}")[0]


def test_brackets_open_towards_what_they_hold() -> None:
    assert drawn("(مل)")[0][0] + drawn("(مل)")[0][-1] == "()"
    assert drawn("\u2068Harbour (East)\u2069 (لا)")[0].endswith("Harbour (East)")


def test_a_part_kept_together_goes_on_on_the_next_line() -> None:
    name = "Harbour 3 East, second floor, to the left."
    lines = drawn(f"قسمكم \u2068{name}\u2069", width=150.0)
    assert len(lines) > 2
    said = " ".join(lines)
    assert said.count(".") == 1
    assert lines[-1].rstrip().endswith("left.")


def test_an_arabic_page_is_the_mirror_of_an_english_one() -> None:
    page, beside = pages("ar")
    read = read_pdf(pdf((page, beside)))
    width, _ = PAPERS["letter"]
    there = {each.text.strip(): each.box for each in read.pieces[4] if each.size < 9}
    here = {each.text.strip(): each.box for each in read.pieces[0] if each.size < 9}
    assert here["4"][2] == pytest.approx(width - there["4"][0], abs=0.5)
    assert here["4"][1] == pytest.approx(there["4"][1], abs=0.5)


def test_numbers_and_volumes_stand_within_arabic_words_as_they_are_read() -> None:
    (line,) = drawn(next(each for each in pages("ar")[0].amount.lines if "2,000" in each))
    assert "2,000" in line
    assert line.startswith(".")  # the full stop ends the sentence: at its left
    assert drawn("1,500 مل")[0].endswith("1,500")


# The exchange with a record system


def test_the_preferred_language_of_a_bundle_is_taken_else_the_only_one() -> None:
    def spoken(*communication: dict[str, Any]) -> tuple[str | None, list[str]]:
        bundle = bundle_of(log_of(FULL))
        for each in bundle["entry"]:
            if each["resource"]["resourceType"] == "Patient":
                each["resource"]["communication"] = list(communication)
        log, findings = checked(bundle)
        assert log
        return log.patients[0].language, [
            each.code for each in findings if each.field == "language"
        ]

    def said(code: str, **more: Any) -> dict[str, Any]:
        coding = {"system": "urn:ietf:bcp:47", "code": code}
        return {"language": {"coding": [coding]}, **more}

    assert spoken() == (None, [])
    assert spoken(said("uk")) == ("uk", [])
    assert spoken(said("en"), said("ar", preferred=True)) == ("ar", [])
    assert spoken({"language": {"text": "fr"}}) == ("fr", [])
    assert spoken(said("tlh")) == ("tlh", ["no-words-in-language"] * 2)
    language, codes = spoken(said("en"), said("ar"))
    assert language is None
    assert "patient-disagrees" in codes
