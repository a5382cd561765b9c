"""Notes from which English each sentence of a language was translated.

    python -m tests.tools.translated es
    python -m tests.tools.translated es --still-right discharge.title

A sentence whose English changed and whose translation did not is refused, unless it is named as
still right. Where a translation changed, the day of its language is set: what a clinician has
checked before that day counts as not checked.
"""

import argparse
import re
import sys
from datetime import date
from pathlib import Path

from handoff.log.languages import PATIENT_PAGE
from handoff.model.wording import shipped_templates
from tests.support.sources import NOTED, digests, noted, sentences

HEAD = """\
# Of each sentence: a digest of the English from which it was translated, and one of its own words.
# Made by `python -m tests.tools.translated {code}`, never by hand.
"""


def note(folder: Path, still_right: frozenset[str], today: date) -> list[str]:
    """Write the digests, and return the names of sentences that are stale, for which nothing is."""
    now = digests(sentences(shipped_templates() / "en"), sentences(folder))
    before = noted(folder)
    stale = [
        name
        for name, (english, own) in now.items()
        if name in before and name not in still_right
        if before[name][0] != english and before[name][1] == own
    ]
    if stale:
        return stale
    if [own for _, own in now.values()] != [own for _, own in before.values()]:
        _set_day(folder / PATIENT_PAGE, today)
    lines = (f"{name}: {english} {own}" for name, (english, own) in now.items())
    text = HEAD.format(code=folder.name) + "\n".join(lines) + "\n"
    (folder / NOTED).write_text(text, encoding="utf-8")
    return []


def _set_day(path: Path, today: date) -> None:
    text = re.sub(r"(?m)^  changed_on:.*\n", "", path.read_text(encoding="utf-8"))
    changed = re.sub(r"(?m)^(  checked_on:.*\n)", rf"\g<1>  changed_on: {today}\n", text)
    path.write_text(changed, encoding="utf-8")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("code", help="the language's folder in templates/")
    parser.add_argument("--still-right", action="append", default=[], metavar="NAME")
    options = parser.parse_args()
    folder = shipped_templates() / options.code
    stale = note(folder, frozenset(options.still_right), date.today())  # noqa: DTZ011 - local day
    for name in stale:
        print(f"{name}: the English changed, the translation did not", file=sys.stderr)  # noqa: T201
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main())
