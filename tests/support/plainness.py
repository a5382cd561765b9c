"""How plain a text is, by the published measures of its language.

[read]: the formula, or the table of its levels, was read in a page or in open code that quotes it;
none of the originals could be had. [memory]: from memory. A measure sees the length of words and
sentences and nothing else: it finds a page that grew hard, and cannot praise one.

Words: runs of letters, with an apostrophe or hyphen within. A number counts as a word of one
syllable a digit, as for the English page. mL is a word, but for the one in brackets that is
explained.
"""

import re
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import NamedTuple

WORD = re.compile(r"\d[\d.,\u00a0\u202f]*\d|\d|[^\W\d_]+(?:['’ʼ-][^\W\d_]+)*")
SENTENCE_END = re.compile(r"[.?!؟](?=\s|$)")
LONG_LETTERS = 6  # a long word of LIX has more
HARD_SYLLABLES = 4  # a hard word of Polish has as many or more


class Counts(NamedTuple):
    """What the measures are made of."""

    sentences: int
    words: int
    syllables: int
    long_words: int  # more than six letters
    hard_words: int  # four syllables or more

    @property
    def words_a_sentence(self) -> float:
        return self.words / self.sentences

    @property
    def syllables_a_word(self) -> float:
        return self.syllables / self.words


class Measure(NamedTuple):
    """A published measure: its formula, the limit on the page to take home, and where from."""

    name: str
    source: str
    of: Callable[[Counts], float]
    limit: float
    why: str
    higher_is_plainer: bool = True

    def holds(self, value: float) -> bool:
        return value >= self.limit if self.higher_is_plainer else value <= self.limit


# Syllables

ONE_VOWEL: Mapping[str, str] = MappingProxyType(
    {
        # Two strong vowels are two syllables, and so is a weak vowel with an accent.
        "es": "[iuü]?[aeoáéó](?:[iuy](?![aeoáéóíú]))?|[íú]"
        "|[iuü]+(?:y(?![aeoáéó]))?|y(?![aeiouáéíóú])",
        # As in Spanish; a nasal diphthong is one. For -ia and the like see below.
        "pt": "[iu]?(?:ão|ãe|õe)|[iu]?[aeoáâãàéêóôõ](?:[iu](?![aeoáâãéêóôõ]))?|[íú]|[iu]+",
        # A y between two vowels begins a syllable; a mute e at the end is left out below.
        "fr": "(?:[aàâeéèêëiîïoôuùûüœæ]|y(?![aeéèêiou]))+",
        "de": "ei|ai|ey|ay|au|äu|eu|ie|aa|ee|oo|[aeiouyäöü]",
        # An i before another vowel only softens the consonant.
        "pl": "i(?![aąeęioóuy])|[aąeęoóuy]",
        "uk": "[аеєиіїоуюя]",
    }
)
VOWEL = {code: re.compile(pattern) for code, pattern in ONE_VOWEL.items()}
# The u of que, qui, gue and gui is not spoken.
SILENT_U = re.compile("(?<=[qg])u(?=[eiéèêí])")
HIATUS_AT_THE_END = re.compile("[iu][ao]s?$")
ACCENT_PT = re.compile("[áâãàéêíóôõú]")
MUTE_E = re.compile("[^aeiouyéèêàâîïôùû](?:e|es)$")


def syllables(word: str, code: str) -> int:
    """How many syllables a word has in a language with a rule for it; a digit has one."""
    if word[0].isdigit():
        return sum(letter.isdigit() for letter in word)
    word = word.lower()
    if code in {"es", "pt", "fr"}:
        word = SILENT_U.sub("", word)
    found = len(VOWEL[code].findall(word))
    if code == "pt" and HIATUS_AT_THE_END.search(word) and not ACCENT_PT.search(word):
        found += 1  # ri-o, ru-a; but á-gua and his-tó-ria, which say so by their accent
    if code == "fr" and found > 1 and MUTE_E.search(word):
        found -= 1
    return max(found, 1)


def count(text: str, code: str) -> Counts:
    """Counts of a text of whole sentences; without syllables where the language has no rule."""
    words = WORD.findall(text.replace("(mL)", ""))
    spoken = [syllables(word, code) for word in words] if code in VOWEL else []
    return Counts(
        sentences=len(SENTENCE_END.findall(text)),
        words=len(words),
        syllables=sum(spoken),
        long_words=sum(sum(map(str.isalpha, word)) > LONG_LETTERS for word in words),
        hard_words=sum(each >= HARD_SYLLABLES for each in spoken),
    )


# Measures


def reading_ease(base: float, sentence: float, word: float) -> Callable[[Counts], float]:
    """Flesch's form: a base, less so much for each word of a sentence and syllable of a word."""
    return lambda of: base - sentence * of.words_a_sentence - word * of.syllables_a_word


def lix(of: Counts) -> float:
    """Words a sentence, and long words in a hundred."""
    return of.words_a_sentence + 100 * of.long_words / of.words


def fog(of: Counts) -> float:
    """Years of school: words a sentence, and hard words in a hundred."""
    return 0.4 * (of.words_a_sentence + 100 * of.hard_words / of.words)


# The English page reads at grade 6 or below; each limit is the plain side of the level nearest to
# that. Flesch's levels are used with every adaptation of his formula [read].
EASY = "80 and more: easy, grades 5 and 6 of school"

MEASURES: Mapping[str, tuple[Measure, ...]] = MappingProxyType(
    {
        "es": (
            Measure(
                "Fernandez Huerta",
                # Law 2011 shows that the formula as often printed counts sentences the wrong way.
                "Fernández Huerta 1959, corrected by Law 2011 [read: linguistlist.org, legible.es]",
                reading_ease(206.84, 1.02, 60),
                80,
                EASY,
            ),
            Measure(
                "Szigriszt Pazos",
                "Szigriszt Pazos 1993 [read: the code of Wordless and of textstat]",
                reading_ease(206.84, 1, 62.3),
                65,
                "65 and more: quite easy, by Barrio Cantalejo 2008 for what patients read [memory]",
            ),
        ),
        "fr": (
            Measure(
                "Kandel and Moles",
                "Kandel and Moles 1958 [read: the code of Wordless and of textacy]",
                reading_ease(207, 1.015, 73.6),
                80,
                EASY,
            ),
            Measure(
                "LIX",
                "Björnsson 1968, Anderson 1983 [read: oscarstories.com, the code of Wordless]",
                lix,
                40,
                "under 40: easy, as fiction; French has longer words than Swedish",
                higher_is_plainer=False,
            ),
        ),
        "pt": (
            Measure(
                "Flesch in Portuguese",
                "Martins and others 1996 [read: geratools.com]",
                reading_ease(248.835, 1.015, 84.6),
                75,
                "75 and more: very easy, grades 1 to 4 of school [memory]",
            ),
        ),
        "de": (
            Measure(
                "Amstad",
                "Amstad 1978 [read: leichtlesbar.ch, tuwort.net, the code of Wordless]",
                reading_ease(180, 1, 58.5),
                80,
                EASY,
            ),
            Measure(
                "LIX",
                "Björnsson 1968; levels of Rosebrock and Nix 2017 [read: schulportal.berlin.de]",
                lix,
                30,
                "under 30: very easy, as what children read",
                higher_is_plainer=False,
            ),
        ),
        "pl": (
            Measure(
                "FOG, four syllables",
                "Gunning 1952; four syllables in Polish: Pisarek, Seretny [read: pl.wikipedia.org]",
                fog,
                6,
                "1 to 6: very plain, for pupils of primary school [read]",
                higher_is_plainer=False,
            ),
        ),
        "uk": (
            Measure(
                "Flesch in Ukrainian",
                "Partiko 2001, as in Grzybek 2010 [read: the code of Wordless]",
                # A study of 2025 finds no formula that follows the age of Ukrainian readers well.
                reading_ease(206.84, 5.93, 28.3),
                80,
                EASY,
            ),
        ),
        # A formula of Vietnamese (Luong, Nguyen and Dinh 2018) needs its list of words, and that of
        # Nguyen and Henkin 1985 could not be read. OSMAN (El-Haj and Rayson 2016) counts Arabic
        # syllables by vowel signs, which such a page is written without; two open implementations
        # differ on one text. So the length of sentences alone is tested in both.
        "vi": (),
        "ar": (),
    }
)
# In every language, in words (in Vietnamese, in syllables). Common practice for plain language is
# 15 to 20; the English page has 7 on average, and at most 15.
WORDS_A_SENTENCE, LONGEST_SENTENCE = 10, 20


def sentences_of(text: str) -> list[str]:
    """The sentences of a text."""
    return [each for each in re.split(r"(?<=[.?!؟])\s+", text) if each.strip()]


def longest_sentence(text: str) -> int:
    """How many words the longest sentence has."""
    return max(len(WORD.findall(each)) for each in sentences_of(text))
