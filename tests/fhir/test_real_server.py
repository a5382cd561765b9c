"""Sent to, and read back from, an implementation of the standard that nobody here wrote.

The router and repository in memory of the npm packages in `server/package-lock.json` (Apache 2.0).
Skipped where there is no node, or where `npm ci` was not run in `server/`. A search is slow in it,
so that it has two patients.
"""

import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from handoff.cli import main as cli
from handoff.fhir.client import Client
from tests.fhir.sending import IN_ALL, patient, shift_of, write
from tests.fhir.ward import NIGHT, NUMBERS, THERE, WARD, ZONE
from tests.support.runs import content

SERVER = Path(__file__).parent / "server"

if shutil.which("node") is None:
    pytest.skip("there is no node on this machine", allow_module_level=True)
if not (SERVER / "node_modules").is_dir():
    pytest.skip("npm ci was not run in tests/fhir/server", allow_module_level=True)


@contextmanager
def serving() -> Iterator[str]:
    """The base address of a server with the ward that is written by hand."""
    first = json.dumps({"resourceType": "Bundle", "entry": [{"resource": each} for each in THERE]})
    process = subprocess.Popen(
        ["node", "server.mjs"],  # noqa: S607 - as it is found
        cwd=SERVER,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdin
    assert process.stdout
    try:
        process.stdin.write(first)
        process.stdin.close()
        address = process.stdout.readline().strip()
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/fhir", address)
        yield address
    finally:
        process.kill()
        process.stdout.close()
        process.wait(30)


def sending_twice_makes_nothing_and_a_correction_replaces_a_version(
    base: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write(tmp_path / "fhir", *shift_of(patient()))

    def send(*more: str) -> tuple[int, str]:
        code = cli.main(["fhir", "send", str(folder), base, *more])
        return code, capsys.readouterr().out.strip()

    assert send() == (cli.DONE, f"{IN_ALL} sent")
    assert send() == (cli.DONE, f"{IN_ALL} there already")
    write(folder, *shift_of(patient(), ml=1250))
    differ = f"{IN_ALL - 2} there already, 2 left as the record has them"
    assert send() == (cli.DONE_WITH_ERRORS, differ)
    corrected = f"{IN_ALL - 2} there already, 2 brought up to date"
    assert send("--correct") == (cli.DONE, corrected)
    assert send() == (cli.DONE, f"{IN_ALL} there already")


def a_version_that_is_not_the_newest_replaces_nothing(base: str) -> None:
    client = Client(base)
    height = client.read("Observation/height")
    old = {"If-Match": f'W/"{height["meta"]["versionId"]}"'}
    changed = {**height, "status": "amended"}
    assert client.send("PUT", "Observation/height", changed, old).is_ok
    assert client.send("PUT", "Observation/height", height, old).status == 412
    assert client.read("Observation/height")["status"] == "amended"


def a_ward_is_got_from_it(base: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    options = ["--ward", WARD, "--time-zone", ZONE, "--shift", NIGHT, "--patient-system", NUMBERS]
    assert cli.main(["fhir", "get", base, *options, "--out", str(out)]) == cli.DONE
    (file,) = content(out).values()
    found = {each["resource"].get("id") for each in json.loads(file)["entry"]}
    rows = {"first", "second", "toms", "away", "told", "declined"}
    facts = {"w", "b12a", "p1", "p2", "e1", "e2", "o1", "height", "taught", "goal"}
    assert rows | facts <= found
    assert not {"earlier", "next", "p3", "p4", "elsewhere", "laboratory"} & found


def test_sent_to_got_from_and_corrected_in_a_server_of_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One test, since the server takes seconds to start."""
    with serving() as base:
        a_ward_is_got_from_it(base, tmp_path)
        capsys.readouterr()
        sending_twice_makes_nothing_and_a_correction_replaces_a_version(base, tmp_path, capsys)
        a_version_that_is_not_the_newest_replaces_nothing(base)
