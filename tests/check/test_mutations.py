"""However a log is mangled: a result or findings, every record accounted for, never a fault.

400 mangled logs in the suite; `pytest tests/check/test_mutations.py --mutations 100000` for more.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from functools import cache
from io import StringIO
from pathlib import Path
from random import Random

import pytest

from handoff import portable
from handoff.cli import main as cli
from handoff.compose.export import set_aside_csv
from tests.support.accounted import assert_accounted_for
from tests.support.bad_logs import BAD_LOGS, IN_OPTIONS
from tests.support.logs import SAMPLES, options, read_handovers
from tests.support.mutations import mutated

MESSY = SAMPLES / "messy.csv"
PARTS = 8
LONGEST_S = 20  # a log of a shift is read in milliseconds; what takes this long hangs
EVERY_SO_MANY = 20  # is also run as a command
GIVEN = options(**IN_OPTIONS)


@cache
def logs() -> list[tuple[str, bytes]]:
    """(suffix, content) of the sample logs that are small, and of the bad ones."""
    samples = [
        MESSY,
        SAMPLES / "2026-03-06-night.csv",
        *sorted(SAMPLES.glob("clock-change/*.yaml")),
        SAMPLES / "ward" / "2026-03-03-night.yaml",
    ]
    bad = (each for each in BAD_LOGS.values() if each.content is not None)
    return [(path.suffix, path.read_bytes()) for path in samples] * 4 + [
        (Path(each.name).suffix, content)
        for each in bad
        for content in [
            each.content if isinstance(each.content, bytes) else str(each.content).encode()
        ]
        if len(content) < 5000
    ]


@contextmanager
def a_limit_of_time() -> Iterator[None]:
    def ring() -> None:
        raise TimeoutError

    with portable.alarm(ring, LONGEST_S, LONGEST_S):
        yield


def assert_is_a_command(paths: list[str]) -> None:
    given = [f"--{name.replace('_', '-')}={said}" for name, said in IN_OPTIONS.items()]
    with redirect_stdout(StringIO()) as out:
        code = cli.main(["--debug", "check", "--json", *given, *paths])
    document = json.loads(out.getvalue())
    counts = document["counts"]
    if counts["read"] is None:
        assert code == cli.NOTHING_PRODUCED
        assert document["findings"]
    else:
        assert counts["read"] == counts["used"] + counts["set_aside"]
        is_lost = any(each["severity"] == "error" for each in document["findings"])
        assert code == (cli.DONE_WITH_ERRORS if is_lost else cli.DONE)


@pytest.mark.parametrize("part", range(PARTS))
def test_a_mangled_log_is_never_a_fault(
    part: int, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    for number in range(part, request.config.getoption("--mutations"), PARTS):
        random = Random(number)
        suffix, content = random.choice(logs())
        path = tmp_path / f"night{suffix}"
        path.write_bytes(mutated(content, random))
        try:
            with a_limit_of_time():
                assert_accounted_for(*read_handovers([str(path)], GIVEN, None))
                if number % EVERY_SO_MANY == 0:
                    assert_is_a_command([str(path)])
        except Exception as fault:
            fault.add_note(f"mutation {number}")
            raise


def test_a_mangled_file_of_mended_rows_is_never_a_fault(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    (handover,), _ = read_handovers([str(MESSY)], GIVEN, None)
    content = set_aside_csv(handover.logs)
    path = tmp_path / "mended.csv"
    for number in range(request.config.getoption("--mutations") // (PARTS * 4)):
        path.write_bytes(mutated(content, Random(number)))
        try:
            with a_limit_of_time():
                assert_accounted_for(*read_handovers([str(MESSY), str(path)], GIVEN, None))
        except Exception as fault:
            fault.add_note(f"mutation {number}")
            raise
