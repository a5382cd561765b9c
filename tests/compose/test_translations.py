"""The words of pages for patients in other languages: they say what the English ones say, to the
same patients, and nothing of another language.
"""

import re
import unicodedata
from collections.abc import Iterator
from io import BytesIO

import pikepdf
import pytest
from jinja2 import Environment, nodes

from handoff.draw.paper import PAPERS
from handoff.model.wording import shipped_templates
from tests.support.going_home import GIVEN
from tests.support.plainness import WORD
from tests.support.sources import sentences
from tests.support.translated import (
    COUNTED,
    TRANSLATED,
    both_in,
    pages_in,
    pdf_in,
    printed,
    running_text,
)

PARSER = Environment(autoescape=True)
JINJA = re.compile(r"\{[{%#].*?[}%#]\}", re.DOTALL)


def sources(code: str) -> dict[str, str]:
    """The words of both pages by their dotted name, as they stand in the files."""
    return sentences(shipped_templates() / code)


ENGLISH = sources("en")


def said_in(code: str) -> Iterator[str]:
    """All that is printed on each page in a language."""
    for page in both_in(code):
        yield " ".join(printed(page))


def conditions(source: str) -> list[str]:
    """What the `if` and `elif` of a template ask, and the loops, in their order."""
    tree = PARSER.parse(source)
    asked = [repr(node.test) for node in tree.find_all(nodes.If)]
    return asked + [repr(node.iter) + repr(node.test) for node in tree.find_all(nodes.For)]


def facts(source: str) -> set[str]:
    """The facts, fields and filters that a template speaks of."""
    tree = PARSER.parse(source)
    own = {node.name for node in tree.find_all(nodes.Name) if node.ctx == "store"}
    names = {node.name for node in tree.find_all(nodes.Name)} - own - {"plural"}
    fields = {repr(node) for node in tree.find_all(nodes.Getattr)}
    return names | fields | {f"|{node.name}" for node in tree.find_all(nodes.Filter)}


@pytest.mark.parametrize("code", TRANSLATED)
def test_each_sentence_is_said_to_the_same_patients_with_the_same_facts(code: str) -> None:
    translated = sources(code)
    assert list(translated) == list(ENGLISH)
    for name, source in ENGLISH.items():
        assert conditions(translated[name]) == conditions(source), name
        if not name.endswith((".not_checked", ".beside")):  # these name the languages
            assert facts(translated[name]) == facts(source), name


@pytest.mark.parametrize("code", TRANSLATED)
def test_a_page_has_as_many_lines_as_the_english_one(code: str) -> None:
    for pair in zip(both_in(code), both_in("en"), strict=True):
        empty = [[not text for text in printed(page)] for page in pair]
        assert empty[0] == empty[1]


@pytest.mark.parametrize("code", TRANSLATED)
def test_no_number_is_added_or_lost_and_none_is_an_emergency_number(code: str) -> None:
    """Months of Vietnamese are numbers, but stand in another block."""
    for name, source in sources(code).items():
        digits = re.findall(r"\d+", JINJA.sub("", source))
        assert digits == re.findall(r"\d+", JINJA.sub("", ENGLISH[name])), name


# For each of COUNTED, how much and how long. By the rules of CLDR; the words by grammars [memory].
PLURALS = {
    "es": """
        1 respiración cada hora | 1 segundo
        2 respiraciones cada 2 horas | 2 segundos
        5 respiraciones cada 5 horas | 5 segundos
        11 respiraciones cada 11 horas | 11 segundos
        22 respiraciones cada 22 horas | 22 segundos
        100 respiraciones cada 21 horas | 2.5 segundos
        103 respiraciones cada 12 horas | 21 segundos
    """,
    "fr": """
        1 respiration toutes les heures | 1 seconde
        2 respirations toutes les 2 heures | 2 secondes
        5 respirations toutes les 5 heures | 5 secondes
        11 respirations toutes les 11 heures | 11 secondes
        22 respirations toutes les 22 heures | 22 secondes
        100 respirations toutes les 21 heures | 2.5 secondes
        103 respirations toutes les 12 heures | 21 secondes
    """,
    "pt": """
        1 respiração a cada hora | 1 segundo
        2 respirações a cada 2 horas | 2 segundos
        5 respirações a cada 5 horas | 5 segundos
        11 respirações a cada 11 horas | 11 segundos
        22 respirações a cada 22 horas | 22 segundos
        100 respirações a cada 21 horas | 2.5 segundos
        103 respirações a cada 12 horas | 21 segundos
    """,
    "de": """
        1 Atemzug jede Stunde | 1 Sekunde
        2 Atemzüge alle 2 Stunden | 2 Sekunden
        5 Atemzüge alle 5 Stunden | 5 Sekunden
        11 Atemzüge alle 11 Stunden | 11 Sekunden
        22 Atemzüge alle 22 Stunden | 22 Sekunden
        100 Atemzüge alle 21 Stunden | 2.5 Sekunden
        103 Atemzüge alle 12 Stunden | 21 Sekunden
    """,
    "pl": """
        1 wdech co godzinę | 1 sekundę
        2 wdechy co 2 godziny | 2 sekundy
        5 wdechów co 5 godzin | 5 sekund
        11 wdechów co 11 godzin | 11 sekund
        22 wdechy co 22 godziny | 22 sekundy
        100 wdechów co 21 godzin | 2.5 sekundy
        103 wdechy co 12 godzin | 21 sekund
    """,
    "uk": """
        1 вдих щогодини | 1 секунду
        2 вдихи раз на 2 години | 2 секунди
        5 вдихів раз на 5 годин | 5 секунд
        11 вдихів раз на 11 годин | 11 секунд
        22 вдихи раз на 22 години | 22 секунди
        100 вдихів раз на 21 годину | 2.5 секунди
        103 вдихи раз на 12 годин | 21 секунду
    """,
    "vi": """
        1 hơi mỗi giờ một lần | 1 giây
        2 hơi cứ 2 giờ một lần | 2 giây
        5 hơi cứ 5 giờ một lần | 5 giây
        11 hơi cứ 11 giờ một lần | 11 giây
        22 hơi cứ 22 giờ một lần | 22 giây
        100 hơi cứ 21 giờ một lần | 2.5 giây
        103 hơi cứ 12 giờ một lần | 21 giây
    """,
    "ar": """
        نفسًا واحدًا كل ساعة | ثانية واحدة
        نفسين كل ساعتين | ثانيتين
        5 أنفاس كل 5 ساعات | 5 ثوانٍ
        11 نفسًا كل 11 ساعة | 11 ثانية
        22 نفسًا كل 22 ساعة | 22 ثانية
        100 نفس كل 21 ساعة | 2.5 ثانية
        103 أنفاس كل 12 ساعة | 21 ثانية
    """,
}


@pytest.mark.parametrize("code", TRANSLATED)
def test_words_agree_with_their_number(code: str) -> None:
    lines = PLURALS[code].strip().splitlines()
    for page, expected in zip(pages_in(code)[-len(COUNTED) :], lines, strict=True):
        amount, hold = (f"{re.escape(each.strip())}(?!\\w)" for each in expected.split("|"))
        assert re.search(amount, page.amount.lines[0]), page.amount.lines[0]
        assert re.search(hold, page.steps.lines[5].replace("2,5", "2.5")), page.steps.lines[5]


# Words of the English page that none of these languages has.
ENGLISH_WORDS = {"the", "you", "your", "with", "and", "breath", "breaths", "breathe", "nurse"}
ENGLISH_WORDS |= {"doctor", "call", "hour", "hours", "every", "once", "day"}
# What is written alike in both.
ALIKE = {"es": {"discharge.log.answers.no"}, "fr": {"discharge.log.columns.day"}}
ALIKE |= {"de": {"discharge.name"}}
# Letters of the log: name, unit, bed, and the mL of the device.
LATIN_OF_THE_LOG = {"Larkspur", "Odile", "Harbour", "East", "A", "mL"}


@pytest.mark.parametrize("code", TRANSLATED)
def test_nothing_is_left_in_english(code: str) -> None:
    alike = {
        name
        for name, source in sources(code).items()
        if source == ENGLISH[name] and re.search(r"[^\W\d_]", JINJA.sub("", source))
    }
    assert alike == ALIKE.get(code, set())
    for said in said_in(code):
        assert set(re.findall(r"[^\W\d_]+", said.lower())) & ENGLISH_WORDS == set()
        if code in {"uk", "ar"}:
            assert set(re.findall("[A-Za-z]+", said)) <= LATIN_OF_THE_LOG


# Words without a vowel that are no abbreviations.
NO_VOWEL = {"pl": {"W", "w", "z"}, "uk": {"в", "з", "З"}}
VOWEL = re.compile("[aeiouyæœаеєиіїоуюя]")
MARKS = re.compile("[\u0300-\u036f]")
STOP_WITHIN = re.compile(r"\w\.\w|\.\s+[^\W\d_A-ZÀ-ÞĐĄ-ŽА-ЯІЇЄҐ]")
UNIT = {"uk": "мл", "ar": "مل"}


def without_vowel(text: str) -> set[str]:
    """The words of a text that have no vowel, in Latin or Cyrillic letters."""
    return {
        word
        for word in WORD.findall(text)
        if word.isalpha()
        if not VOWEL.search(MARKS.sub("", unicodedata.normalize("NFD", word.lower())))
    }


@pytest.mark.parametrize("code", TRANSLATED)
def test_milliliters_are_explained_once(code: str) -> None:
    unit = UNIT.get(code, "mL")
    for page in pages_in(code):
        said = " ".join(printed(page))
        assert said.count(f"({unit}") == 1 + bool(page.log)  # and above a column of the log
        assert f"({unit}" in page.steps.lines[5]


@pytest.mark.parametrize("code", [each for each in TRANSLATED if each != "ar"])
def test_there_is_no_other_abbreviation(code: str) -> None:
    """Arabic writes few vowels, and no capitals: it is read by eye."""
    for said in said_in(code):
        assert without_vowel(said) <= {"mL", "мл"} | NO_VOWEL.get(code, set())
    for page in both_in(code):
        running = re.sub(r"(?<=\d)[.,\u00a0](?=\d)", "", running_text(page))
        assert STOP_WITHIN.findall(running) == []


def test_an_abbreviation_is_found() -> None:
    for text in ("Tel. des Arztes.", "Nehmen Sie z.B. Wasser.", "Proszę np. usiąść.", "10 ок. дня"):
        assert STOP_WITHIN.search(text) or without_vowel(text), text
    assert without_vowel("Ćwicz 5 min, potem kg i cm.") == {"kg", "cm"}


# Words that take the reader for a man or a woman, by hand [memory].
GENDERED = {
    "es": r"\b(maread|cansad|segur|despiert|sentad|confus|preocupad)[oa]\b",
    "fr": r"\b(essoufflé|étourdi|sûr|éveillé|allongé|assis|fatigué|seul|arrivé|tombé)e?\b",
    "pt": r"\b(tont|segur|acordad|cansad|deitad|sentad|sozinh|preocupad)[oa]\b",
    "pl": r"\b(Pan|Pani|Pana|Pański\w*)\b|\w+(łeś|łaś|łem|łam)\b",
    "uk": r"\bти\b|\b(впевнений|впевнена)\b",
    "ar": r"\b(أنتَ|أنتِ|أنت)\b",
}


@pytest.mark.parametrize("code", TRANSLATED)
def test_nobody_is_taken_for_a_man_or_a_woman(code: str) -> None:
    said = " ".join(JINJA.sub("", source) for source in sources(code).values())
    assert re.findall(r"\w\(\w{1,3}\)|\w/\w", said) == []
    # What is said of the thing and not of the reader: 'de forma segura', 'solo para usted'.
    found = re.findall(GENDERED.get(code, "$^"), said)
    assert found == [], found


# Words that a reader who had not seen the English took for something else [memory]: 'falls due' for
# a time missed, 'hold the pointer' for 'keep it there', 'the 1st' for day 1, 'until rest' for 'even
# at rest', 'stabbing' for tingling, '2 or 3 each time' for '2 or 3 at a time'.
MISREAD = {
    "pl": "wypadnie|trzymać wskaźnik|W razie rany",
    "uk": "Тримайте покажчик|кілька вдихів|за раз",
    "vi": r"mở phổi|^Ngày $",
    "ar": "حتى وقت الراحة|وخز|2 أو 3 في كل مرة",
}


@pytest.mark.parametrize(("code", "words"), MISREAD.items())
def test_no_word_stands_there_that_was_misread(code: str, words: str) -> None:
    for name, source in sources(code).items():
        said = JINJA.sub("", source.replace("{{ most_at_a_time }}", "3"))
        assert not re.search(words, said), name


@pytest.mark.parametrize("code", TRANSLATED)
def test_the_phone_is_the_one_of_the_log(code: str) -> None:
    assert sources(code)["discharge.unit.text"] == ENGLISH["discharge.unit.text"]
    assert "902-555-0144" in pages_in(code)[0].unit.value


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("code", TRANSLATED)
def test_the_page_takes_one_leaf_and_another_for_the_log(code: str, paper: str) -> None:
    """Each sentence as high as in either language: two sides and the log, a blank back of the log,
    and the same three sides for the staff.
    """
    for given in GIVEN[:2]:
        with pikepdf.open(BytesIO(pdf_in(given, code, paper))) as pdf:
            assert len(pdf.pages) == 7
