"""Says the sentences of a page for a patient, and what each of them is in another language.

Input: the words of the page's language, those of the other one, facts. Output: finished sentences,
and a `PageLanguage`. For every page that is printed in two languages side by side.
"""

from collections.abc import Callable, Sequence
from typing import TypeVar

from handoff.compose.words import Words
from handoff.model.pages import Fact, PageLanguage, Twin

Page = TypeVar("Page")


def in_both_languages(
    words: Words, compose: Callable[[Words, Words | None], Page]
) -> tuple[Page, ...]:
    """The page in the patient's language; and in the staff's, where that is another: nurse and
    interpreter follow one with a finger on the other. `compose` takes the words of the page, and
    those of the other one.
    """
    if words.staff is None:
        return (compose(words, None),)
    return compose(words, words.staff), compose(words.staff, words)


class Saying:
    """Says the words of one page, `page` being the name under which its file has them.

    `other` are the words of the same page in the other language, where it is printed in two. Each
    sentence is numbered as it is said: say them in the order of reading. One that only the other
    page has leaves its number out.
    """

    def __init__(self, page: str, words: Words, other: Words | None, **facts: object) -> None:
        self._page = page
        self._words = words
        self._other = other
        self._facts = facts
        self._last_number = 0
        self._twins: dict[str, Twin] = {}

    def __call__(self, name: str, /, **more: object) -> str:
        """A sentence, or several that stand together."""
        return self._said(name, self._last_number + 1, **more)

    def fact(self, name: str) -> Fact:
        """A label and its text, under one number."""
        label = self(f"{name}.label")
        return Fact(label, self._said(f"{name}.text", self._last_number))

    def by_its_place(self, name: str, /, **more: object) -> str:
        """Words that need no number, as those of a table."""
        return self._said(name, 0, **more)

    def again(self, label: str, sentences: Sequence[str]) -> Fact:
        """Sentences that were said before, together, after a label that was."""
        fact = Fact(label + self._words.say("language.colon"), " ".join(sentences))
        if self._other:
            self._last_number += 1
            other, *others = (self._twins[each].words for each in (label, *sentences))
            colon = self._other.say("language.colon")
            self._twins[fact.label] = Twin(self._last_number, other + colon)
            self._twins[fact.value] = Twin(self._last_number, " ".join(others))
        return fact

    def language(self) -> PageLanguage:
        """The language of the page, each sentence in the other one, and the foot: that nobody has
        checked the translation, in both languages; on the staff's page also what it is.
        """
        words, other = self._words, self._other
        of_page = words.language, words.right_to_left
        if other is None:
            return PageLanguage(*of_page)
        translated, staff = (other, words) if words.staff is None else (words, other)
        name = {each: translated.say(f"language.{each}") for each in ("name", "english_name")}
        beside, not_checked = f"{self._page}.beside", f"{self._page}.not_checked"
        warning, for_staff = "", []
        if translated is other:
            for_staff.append(staff.say(beside, translation=name))
        if not translated.is_checked(self._page):
            for_staff.append(words.isolated(staff.say(not_checked, translation=name)))
            if translated is words:
                warning = words.say(not_checked, translation=name)
        return PageLanguage(*of_page, self._twins, warning, tuple(for_staff))

    def _said(self, name: str, number: int, /, **more: object) -> str:
        """The words, known under this number if either page has them."""
        name = f"{self._page}.{name}"
        said = self._words.say(name, **self._facts, **more)
        if self._other:
            other = self._other.say(name, **self._facts, **more)
            if said or other:
                self._last_number = max(self._last_number, number)
                self._twins.setdefault(said, Twin(number, other))
        return said
