"""Writes the logs of two invented units over eight weeks, for `handoff review`.

Input: a folder. Output: in it `changed`, where from the first day of week 5 a kit lies ready at
each bed, so that the exercise is begun sooner, and `quiet`, where nothing changes. The same logs
each time: `python -m tests.tools.review_sample FOLDER`, then `handoff review FOLDER/changed/*.yaml
--out OUT`. `tests/review/test_samples.py` holds that the charts show the change, and that nothing
is shown where nothing changed. So it was of each of seeds 1 to 5.
"""

import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from tests.support.unit_weeks import Unit, write_logs

QUIET = Unit(beds=20, days=56, does=0.3)
CHANGED = replace(QUIET, changes_on=QUIET.first + timedelta(weeks=4))
SEED = 1


def write_samples(folder: Path) -> dict[str, list[str]]:
    """The paths of the logs of both units, by the name of their folder."""
    written = {}
    for name, unit in (("changed", CHANGED), ("quiet", QUIET)):
        (folder / name).mkdir(parents=True)
        written[name] = write_logs(folder / name, unit, SEED)
    return written


if __name__ == "__main__":
    write_samples(Path(sys.argv[1]))
