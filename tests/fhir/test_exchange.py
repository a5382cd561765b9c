"""The whole way: sheets of a log, sent to a record that has the patients, and got from it again."""

import json
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from handoff.check import check
from handoff.cli import main as cli
from handoff.fhir.get import FACTS
from handoff.model.findings import Severity
from handoff.model.ward import NOWHERE, Log
from handoff.read import Exchange, read
from tests.fhir.record import Record, serving
from tests.support.full_log import FULL
from tests.support.logs import log_of, options
from tests.support.runs import content
from tests.support.written_bundles import SYSTEM, bundle_of, codes_of

OF_THE_RECORD = {"Patient", "Location", "Encounter", "ServiceRequest", "Goal"}
FACTS_OF_THE_RECORD = {*FACTS, "8302-2", "29463-7", "387713003"}


def record_of(log: Log) -> Record:
    """A record that knows of a log's patients what a ward does not write: who they are, where, why,
    their orders and goals, and what was measured before.
    """
    record, entries = Record(), bundle_of(log)["entry"]
    text = json.dumps([each["resource"] for each in entries])
    for number, each in enumerate(entries):
        text = text.replace(each["fullUrl"], f"{each['resource']['resourceType']}/w{number}")
    for number, resource in enumerate(json.loads(text)):
        if resource["resourceType"] in OF_THE_RECORD or codes_of(resource) & FACTS_OF_THE_RECORD:
            record.put({**resource, "id": f"w{number}"})
    return record


def rows(log: Log) -> list[tuple[Any, ...]]:
    return sorted((each.content for each in log.entries), key=repr)


def test_what_is_sent_and_got_again_is_the_same_log(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log, out, got = log_of(FULL), str(tmp_path / "out"), tmp_path / "got"
    (tmp_path / "night.yaml").write_text(FULL, encoding="utf-8")
    kinds = ["--fhir", SYSTEM, "--with", "signs,flags"]
    assert cli.main(["sheets", str(tmp_path / "night.yaml"), "--out", out, *kinds]) in (0, 1)
    record = record_of(log)
    (ward,) = (each["id"] for each in record.all("Location") if "partOf" not in each)
    zone = log.unit.time_zone
    start, end = (at.astimezone(zone) for at in (log.shift.start, log.shift.end))
    shift = f"{start:%Y-%m-%dT%H:%M}/{end:%Y-%m-%dT%H:%M}"
    where = ["--ward", f"Location/{ward}", "--time-zone", zone.key, "--shift", shift]
    with serving(record) as base:
        assert cli.main(["fhir", "send", f"{out}/fhir", base]) == cli.DONE
        capsys.readouterr()
        assert cli.main(["fhir", "send", f"{out}/fhir", base]) == cli.DONE
        assert capsys.readouterr().out.endswith("there already\n")
        options_of = [*where, "--out", str(got), "--patient-system", SYSTEM]
        assert cli.main(["fhir", "get", base, *options_of]) == cli.DONE
    (name,) = content(got)
    exchange = Exchange(SYSTEM)
    back, findings = check(
        read(str(got / name), exchange=exchange), replace(options(), exchange=exchange)
    )
    assert back is not None
    assert [each for each in findings if each.severity is Severity.ERROR] == []
    assert rows(back) == rows(log)
    assert [replace(each, place=NOWHERE) for each in back.patients] == [
        replace(each, place=NOWHERE) for each in log.patients
    ]
    assert (back.unit.time_zone, back.shift.start) == (zone, log.shift.start)
