"""Looks for logs that the readers fail on, guided by which lines of the code they reach.

Needs atheris, which the tests do not: `pip install atheris`. The first argument is the kind of log,
the others are libFuzzer's. A fault ends it and leaves the log that it happened on:

    python -m tests.fuzz.fuzz_reading yaml -max_total_time=600
"""

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["handoff"]):
    from handoff.compose.export import set_aside_csv
    from tests.support.logs import SAMPLES, options, read_handovers

from tests.support.accounted import assert_accounted_for
from tests.support.bad_logs import BAD_LOGS, IN_OPTIONS

LONGEST_BYTES = 4096
GIVEN = options(**IN_OPTIONS)


def main(kind: str, arguments: list[str]) -> None:
    """Read logs of one kind, `yaml` or `csv`, until a fault or the end of the time."""
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / f"night.{kind}"
        known = Path(folder) / "known"
        known.mkdir()
        for number, content in enumerate(_known_logs(kind)):
            (known / str(number)).write_bytes(content)

        def read(content: bytes) -> None:
            log.write_bytes(content)
            assert_accounted_for(*read_handovers([str(log)], GIVEN, None))

        limits = [f"-max_len={LONGEST_BYTES}", "-timeout=20", "-print_final_stats=1"]
        atheris.Setup([sys.argv[0], *limits, *arguments, str(known)], read)
        atheris.Fuzz()


def _known_logs(kind: str) -> list[bytes]:
    """The logs of the tests, to begin with."""
    logs = [each.content for each in BAD_LOGS.values() if each.name.endswith(kind) and each.content]
    samples = [path.read_bytes() for path in SAMPLES.rglob(f"*.{kind}")]
    own = [log if isinstance(log, bytes) else log.encode() for log in logs]
    if kind == "csv":
        own.append(set_aside_csv([]))
    return [log[:LONGEST_BYTES] for log in (*own, *samples)]


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
