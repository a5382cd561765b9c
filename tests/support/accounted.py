"""Every record of a log is used, or set aside and named."""

import json

from handoff.compose.export import set_aside_csv
from handoff.model.findings import Finding, Severity, text, worst
from handoff.model.ward import Handover, Log


def assert_nothing_is_lost(log: Log) -> None:
    """Every record is used or set aside, and one set aside is named where it stands."""
    counts = log.counts
    assert counts.read == counts.used + counts.set_aside
    assert counts.set_aside == len(log.set_aside)
    assert len(log.entries) <= counts.used
    for row in log.set_aside:
        assert row.reason in log.findings
        assert row.reason.severity is not Severity.NOTE
        assert row.reason.place.file == row.place.file
        # A YAML entry may take several lines, and the reason stands on one of them.
        assert (row.reason.place.line or 0) >= (row.place.line or 0) > 0
    known = {patient.id for patient in log.patients}
    assert all(entry.patient_id in known for entry in log.entries)
    assert all(patient.name or patient.born for patient in log.patients)


def assert_accounted_for(handovers: tuple[Handover, ...], findings: list[Finding]) -> None:
    """Every record is used or set aside and named; where nothing is handed over, it says why."""
    for each in findings:
        assert len(text(each).splitlines()) == 1
    json.dumps([each.as_json() for each in findings], ensure_ascii=False).encode()
    if not handovers:
        assert worst(findings) is Severity.ERROR
    for handover in handovers:
        assert handover.counts.read == handover.counts.used + handover.counts.set_aside
        assert handover.counts.set_aside == len(handover.set_aside)
        for log in handover.logs:
            assert_nothing_is_lost(log)
        set_aside_csv(handover.logs)
