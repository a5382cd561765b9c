"""How plain the pages for patients are in each language, by the published measures of the language.

Run as `python -m tests.tools.plainness`. The page to take home and the card are those of a patient
with an order and a goal, whose exercise goes on. `tests/support/plainness.py` has the formulas,
their limits and their sources.
"""

import sys
from collections.abc import Iterator

from tests.support.plainness import (
    LONGEST_SENTENCE,
    MEASURES,
    WORDS_A_SENTENCE,
    count,
    longest_sentence,
)
from tests.support.translated import cards_in, pages_in, running_text

HEADINGS = ("language", "measure", "to take home", "card", "limit", "source")


def rows() -> Iterator[tuple[str, ...]]:
    """A row for each measure of each language."""
    for code, measures in MEASURES.items():
        texts = [running_text(page) for page in (pages_in(code)[0], cards_in(code)[0])]
        counts = [count(text, code) for text in texts]
        averages = [f"{of.words_a_sentence:.1f}" for of in counts]
        yield code, "words a sentence", *averages, f"to {WORDS_A_SENTENCE}", "common practice"
        longest = [str(longest_sentence(text)) for text in texts]
        yield code, "longest sentence", *longest, f"to {LONGEST_SENTENCE}", "common practice"
        for each in measures:
            values = [f"{each.of(of):.1f}" for of in counts]
            limit = f"{'from' if each.higher_is_plainer else 'to'} {each.limit}"
            yield code, each.name, *values, limit, each.source


if __name__ == "__main__":
    for row in (HEADINGS, *rows()):
        sys.stdout.write(f"| {' | '.join(row)} |\n")
