"""How plain the page to take home is in each language, by the published measures of the language.

Run as `python -m tests.tools.plainness`. The page is the longest one: with an order, a goal and a
log to fill in. `tests/support/plainness.py` has the formulas, their limits and their sources.
"""

import sys

from tests.support.plainness import (
    LONGEST_SENTENCE,
    MEASURES,
    WORDS_A_SENTENCE,
    count,
    longest_sentence,
)
from tests.support.translated import pages_in, running_text


def rows() -> list[tuple[str, ...]]:
    """A row for each measure: language, measure, value, limit, source."""
    found: list[tuple[str, ...]] = []
    for code, measures in MEASURES.items():
        text = running_text(pages_in(code)[0])
        of = count(text, code)
        found += [
            (code, "words a sentence", f"{of.words_a_sentence:.1f}", f"to {WORDS_A_SENTENCE}", ""),
            (code, "longest sentence", f"{longest_sentence(text)}", f"to {LONGEST_SENTENCE}", ""),
        ]
        for each in measures:
            limit = f"{'from' if each.higher_is_plainer else 'to'} {each.limit}"
            found.append((code, each.name, f"{each.of(of):.1f}", limit, each.source))
    return found


if __name__ == "__main__":
    for row in [("language", "measure", "value", "limit", "source"), *rows()]:
        sys.stdout.write(f"| {' | '.join(row)} |\n")
