"""Answers that are mangled at random: a result or one line, never a fault of the program, and never
anything twice.
"""

import json
import re
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from random import Random

import pytest

from handoff.cli import main as cli
from handoff.fhir.outgoing import OF_WHOM, read_folder
from tests.fhir.record import Asked, FaultError, Handler, serving
from tests.fhir.sending import ROWS, patient, people, shift_of, write
from tests.fhir.ward import NIGHT, NUMBERS, WARD, ZONE, ward_record
from tests.support.mangled import mangled

DONE = (cli.DONE, cli.DONE_WITH_ERRORS, cli.NOTHING_PRODUCED)


def mangles(random: Random) -> Callable[[Handler, Asked], bool]:
    """Mangles one answer in five."""

    def before(handler: Handler, asked: Asked) -> bool:
        if asked.path == "metadata" or random.random() > 0.2:
            return False
        try:
            status, resource = handler.record.answer(asked)
        except FaultError:
            return False
        handler.give_resource(status, mangled(deepcopy(resource), random))
        return True

    return before


@pytest.fixture
def many(request: pytest.FixtureRequest) -> range:
    # Fewer do not come out in each of the ways that the tests want to see.
    return range(max(20, int(request.config.getoption("--mutations")) // 20))


def test_a_ward_of_mangled_answers_is_got_or_refused(tmp_path: Path, many: range) -> None:
    where = ["--ward", WARD, "--time-zone", ZONE, "--shift", NIGHT, "--patient-system", NUMBERS]
    codes = set()
    for seed in many[::2]:
        with serving(ward_record(before=mangles(Random(seed)))) as base:
            out = tmp_path / str(seed)
            codes.add(cli.main(["--debug", "fhir", "get", base, *where, "--out", str(out)]))
    assert codes <= set(DONE)
    assert len(codes) > 1


def test_nothing_is_sent_twice_over_mangled_answers(tmp_path: Path, many: range) -> None:
    folder = write(tmp_path / "fhir", *shift_of(patient())[10:])
    codes = set()
    for seed in many[::2]:
        record = people(before=mangles(Random(seed)))
        with serving(record) as base:
            for correct in ([], ["--correct"]):
                command = ["--debug", "fhir", "send", str(folder), base, "--most-entries", "3"]
                codes.add(cli.main([*command, *correct]))
        for kind in OF_WHOM:
            values = [each["identifier"][0]["value"] for each in record.all(kind)]
            assert len(set(values)) == len(values)
        assert [each["meta"]["versionId"] for each in record.all("Patient")] == ["1", "1"]
    assert codes <= set(DONE)
    assert len(codes) > 1


def test_a_mangled_file_is_not_sent_or_is_as_it_was_written(tmp_path: Path, many: range) -> None:
    """What is let through names one patient, has an identity for each entry and is the ward's."""
    bundle = {"resourceType": "Bundle", "type": "transaction", "entry": shift_of(patient())}
    folder, read = write(tmp_path / "fhir"), 0
    for seed in many:
        (folder / "bed-12A.json").write_text(json.dumps(mangled(bundle, Random(seed))))
        outgoing, findings = read_folder(str(folder), ROWS)
        assert len(outgoing) + len(findings) == 1
        for each in (entry for one in outgoing for entry in one.entries):
            assert each.kind in OF_WHOM
            assert re.fullmatch(r"[A-Za-z0-9._-]+", each.value)
            assert each.about
        read += len(outgoing)
    assert 0 < read < len(many)
