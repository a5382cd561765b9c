"""The words of a unit: those of its staff, and those of the language of each patient.

Input: a unit's time zone, the language asked for, a unit's own folder of words. Output: `Words`.
"""

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from handoff.compose.words import WordingError, Words
from handoff.log.languages import PATIENT_PAGE, STAFF_PAGE, language_among, languages_with
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.ward import Patient
from handoff.model.wording import ENGLISH, shipped_templates


class UnitWords:
    """The words of one unit: those of its `staff`, and those `of` a patient on pages for that one.

    `language` is that of patients whose log has none. Where there are words for the staff in it,
    they have it too; else theirs is English. Raises `WordingError` where there are no words in it.
    """

    def __init__(
        self, zone: ZoneInfo, language: str = ENGLISH, own_folder: str | None = None
    ) -> None:
        self._known = languages_with(PATIENT_PAGE, own_folder)
        self._usual = language_among(language, self._known)
        if self._usual is None:
            place = Place(str(shipped_templates()))
            codes = ", ".join(self._known)
            raise WordingError(finding("no-such-language", place, raw=language, codes=codes))
        is_staffs = self._usual in languages_with(STAFF_PAGE, own_folder)
        self._zone, self._own_folder = zone, own_folder
        self.staff = Words(zone, self._usual if is_staffs else ENGLISH, own_folder)
        self._words = {self.staff.language: self.staff}

    def of(self, patient: Patient) -> Words:
        """The words of the patient's language; the usual ones where it is not known, the staff's
        where there are none in it.
        """
        asked = patient.language or self._usual
        code = language_among(asked or "", self._known) or self.staff.language
        if code not in self._words:
            self._words[code] = Words(self._zone, code, self._own_folder, self.staff)
        return self._words[code]


def not_translated(
    patients: Iterable[Patient], language: str, own_folder: str | None
) -> list[Finding]:
    """A finding for each sentence that a unit changed and did not translate, where a patient has
    the page in that language.
    """
    if own_folder is None:
        return []
    of_unit = UnitWords(ZoneInfo("UTC"), language, own_folder)
    words = {each.language: each for each in map(of_unit.of, patients)}
    return [
        finding(
            "words-not-translated", Place(own_folder, None, name), name, name=name, language=code
        )
        for code, each in words.items()
        for name in each.untranslated
    ]
