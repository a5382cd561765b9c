"""Finds names that cannot be printed as written.

Input: patients. Output: a finding for each whose name or bed has letters that no font can draw. A
language that has such letters is refused.
"""

from collections.abc import Iterable

from handoff.draw.paper.typeface import FontError
from handoff.draw.paper.typeset import Typesetter
from handoff.model.codes import finding
from handoff.model.findings import Finding
from handoff.model.ward import Patient
from handoff.model.wording import FINDINGS

MOST_SHOWN = 5


def refuse_letters(language: str, texts: Iterable[str], typesetter: Typesetter) -> None:
    """Raise `FontError` where no font has some letters of a language's words."""
    letters = typesetter.fonts.missing_letters(texts)
    if letters:
        shown = " ".join(letters[:MOST_SHOWN])
        key = "letters-not-in-font.of-language"
        raise FontError(FINDINGS.say(key, language=language, letters=shown))


def letters_lacking(patients: Iterable[Patient], typesetter: Typesetter) -> list[Finding]:
    """A finding for each patient whose name or bed has such letters: id and birth date still
    identify them.
    """
    missing = typesetter.fonts.missing_letters
    lacking = [(patient, missing([patient.name, patient.bed])) for patient in patients]
    return [
        finding(
            "letters-not-in-font",
            patient.place,
            field="name",
            letters=" ".join(f"U+{ord(letter):04X}" for letter in letters),
        )
        for patient, letters in lacking
        if letters
    ]
