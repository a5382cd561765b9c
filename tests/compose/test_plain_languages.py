"""The page to take home is plain in every language: published measures, each with its source in
`tests/support/plainness.py`.
"""

import pytest

from tests.support.plainness import (
    LONGEST_SENTENCE,
    MEASURES,
    WORD,
    WORDS_A_SENTENCE,
    Counts,
    count,
    fog,
    lix,
    sentences_of,
    syllables,
)
from tests.support.translated import TRANSLATED, both_in, cards_in, running_text

PASSAGE = 100
# By dictionaries' division of words [memory].
KNOWN = {
    "es": "res-pi-ra-ción ai-re bo-qui-lla dí-a guia-ba que san-gre ciu-dad pa-ís a-é-re-o hoy muy "
    "y sién-te-se a-gua ver-güen-za pe-or le-er ma-re-o ha-cia al-re-de-dor hor-mi-gue-o re-ír",
    "pt": "res-pi-ra-ção não pul-mões di-a ru-a á-gua his-tó-ria sa-í-da en-fer-mei-ra quan-do "
    "que se-gui-das mãe o-xi-gê-nio noi-te tra-ves-sei-ro du-as con-tí-nua ca-la-fri-os",
    # A mute e at the end is no syllable.
    "fr": "res-pi-ra-tion bouche souffle mé-de-cin in-fir-mière pou-mons eau feuille tou-ssez le "
    "ser-vice deux o-rei-ller fois marques a-sse-yez e-ssu-yez",
    "de": "A-tem-zü-ge Lip-pen Pfle-ge-kraft Arzt Sau-er-stoff neu-e Feu-er The-a-ter sie Luft "
    "Ent-la-ssung Me-di-ka-men-te se-hen",
    "pl": "od-dech pie-lęg-niar-ka le-karz pro-szę mi-li-li-trach nie przy-rząd od-dział dzień "
    "kie-dy szpi-ta-la za-py-tać i sie-dzi",
    "uk": "вдих мед-сес-тра лі-кар по-душ-ко-ю го-ди-ну їх ди-хан-ня",
}


@pytest.mark.parametrize(("code", "words"), KNOWN.items())
def test_syllables_are_counted_as_the_language_divides_its_words(code: str, words: str) -> None:
    counted = {word: syllables(word.replace("-", ""), code) for word in words.split()}
    assert counted == {word: word.count("-") + 1 for word in words.split()}


# What textstat 0.7.13 gives for the same words [run].
OUTSIDE = [
    (
        "es",
        "Tome aire despacio. Cierre los labios. Suelte el aire con cuidado.",
        {"Fernandez Huerta": 88.554, "Szigriszt Pazos": 84.237},
    ),
    (
        "fr",
        "Fermez bien la bouche. Respirez lentement sans parler. Reposez votre main sur la table.",
        {"Kandel and Moles": 86.606, "LIX": 26.095},
    ),
    (
        "de",
        "Atmen Sie langsam. Dann ruhen Sie aus. Morgen machen Sie das noch einmal zu Hause.",
        {"Amstad": 89.2, "LIX": 11.667},
    ),
]


@pytest.mark.parametrize(("code", "text", "expected"), OUTSIDE)
def test_measures_are_those_of_an_independent_program(
    code: str, text: str, expected: dict[str, float]
) -> None:
    of = count(text, code)
    found = {each.name: each.of(of) for each in MEASURES[code]}
    assert found == pytest.approx(expected, abs=0.002)


def test_fog_is_that_of_worked_examples() -> None:
    """Two passages with their counts at zanotowane.pl/907/1771 [read]: 35 and 11 years."""
    assert fog(Counts(1, 69, 0, 0, 13)) == pytest.approx(35, abs=0.5)
    assert fog(Counts(3, 48, 0, 0, 5)) == pytest.approx(11, abs=0.5)


def test_the_other_measures_are_those_of_their_formula_by_hand() -> None:
    of = Counts(sentences=4, words=40, syllables=80, long_words=10, hard_words=0)
    assert MEASURES["pt"][0].of(of) == pytest.approx(248.835 - 10.15 - 169.2)
    assert MEASURES["uk"][0].of(of) == pytest.approx(206.84 - 59.3 - 56.6)
    assert lix(of) == pytest.approx(35)


@pytest.mark.parametrize("code", TRANSLATED)
def test_the_page_is_plain_in_every_language(code: str) -> None:
    """The measures are made for passages of 100 words: a card that says to wait has fewer."""
    for text in map(running_text, both_in(code)):
        of = count(text, code)
        assert of.words_a_sentence <= WORDS_A_SENTENCE
        longest = max(sentences_of(text), key=lambda each: len(WORD.findall(each)))
        assert len(WORD.findall(longest)) <= LONGEST_SENTENCE, longest
        for each in MEASURES[code] if of.words >= PASSAGE else ():
            assert each.holds(each.of(of)), (each.name, each.of(of), each.limit)
    assert sum(count(running_text(each), code).words >= PASSAGE for each in cards_in(code)) >= 8


# As an office writes: it must not pass.
HARD = {
    "es": "La realización periódica de los ejercicios respiratorios prescritos contribuye "
    "significativamente a la prevención de complicaciones pulmonares postoperatorias.",
    "fr": "La réalisation régulière des exercices respiratoires prescrits contribue "
    "significativement à la prévention des complications pulmonaires postopératoires.",
    "pt": "A realização periódica dos exercícios respiratórios prescritos contribui "
    "significativamente para a prevenção de complicações pulmonares pós-operatórias.",
    "de": "Die regelmäßige Durchführung der verordneten Atemübungen trägt wesentlich zur "
    "Vermeidung postoperativer pulmonaler Komplikationen bei.",
    "pl": "Regularne wykonywanie zaleconych ćwiczeń oddechowych znacząco przyczynia się do "
    "zapobiegania pooperacyjnym powikłaniom płucnym.",
    "uk": "Регулярне виконання призначених дихальних вправ суттєво сприяє запобіганню "
    "післяопераційним легеневим ускладненням у госпіталізованих пацієнтів.",
}


@pytest.mark.parametrize(("code", "text"), HARD.items())
def test_no_measure_passes_the_prose_of_an_office(code: str, text: str) -> None:
    of = count(text, code)
    assert [each.name for each in MEASURES[code] if each.holds(each.of(of))] == []
