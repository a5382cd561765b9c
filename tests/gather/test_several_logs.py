"""Several files at once: the same hand-over in whatever order, and nothing counts twice."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from handoff.compose.export import set_aside_csv
from handoff.measure import measure
from handoff.model.findings import Finding
from handoff.model.ward import Counts, Handover
from tests.support.bad_logs import (
    AGAIN,
    ENTRY,
    EVENING,
    EVENING_ENTRY,
    HEADER,
    OTHER,
    PATIENT,
    ROW,
    UNIT_CELLS,
    UNIT_HEADER,
    night,
    shift,
    table,
)
from tests.support.how_many import few
from tests.support.logs import options, read_handovers


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def written(logs: Mapping[str, str]) -> list[str]:
    for name, log in logs.items():
        Path(name).write_text(log, encoding="utf-8")
    return list(logs)


def read_of(*paths: str) -> tuple[Handover, list[Finding]]:
    (handover,), findings = read_handovers(paths, options(), None)
    return handover, findings


def entry(at: str, breaths: int = 8, volume_ml: int = 1100) -> str:
    return f'- {{patient: "10442", at: "{at}", breaths: {breaths}, volume_ml: {volume_ml}}}\n'


def test_a_file_given_twice_is_read_once() -> None:
    (path,) = written({"night.yaml": night()})
    alone, _ = read_of(path)
    for again in (path, f"./{path}", str(Path(path).absolute())):
        twice, findings = read_of(path, again)
        assert [each.code for each in findings] == ["same-file"]
        assert (twice.counts, twice.entries.keys()) == (alone.counts, alone.entries.keys())
        assert measure(twice) == measure(alone)


def test_a_copy_of_a_file_counts_for_nothing() -> None:
    paths = written({"copy.yaml": night(ENTRY), "night.yaml": night(ENTRY)})
    both, findings = read_of(*paths)
    alone, _ = read_of(paths[0])
    assert (both.counts, alone.counts) == (Counts(2, 1, 1), Counts(1, 1, 0))
    assert [(each.place.file, each.code) for each in findings] == [("night.yaml", "repeated-entry")]
    assert measure(both) == measure(alone)


def test_an_entry_in_the_logs_of_two_shifts_that_overlap_counts_once() -> None:
    late = entry("2026-03-07 19:15")
    paths = written(
        {
            "day.yaml": night(late, shift=shift("2026-03-07 07:00", "2026-03-07 19:30")),
            "night.yaml": night(late + entry("20:15")),
        }
    )
    both, findings = read_of(*paths)
    assert {each.code for each in findings} == {"shifts-overlap", "repeated-entry"}
    assert measure(both)["10442"].adherence.breaths_done == 16
    assert both.earlier is not None  # half an hour to hand over in


def test_after_a_gap_of_days_the_stay_goes_on_and_the_day_before_is_not_known() -> None:
    order = PATIENT.replace("2026-03-06 10:00", "2026-03-02 10:00")
    paths = written(
        {
            "old.yaml": night(
                entry("2026-03-03 20:00", volume_ml=1300),
                order,
                shift=shift("2026-03-03 19:00", "2026-03-04 07:00"),
            ),
            "night.yaml": night(entry("20:00")),
        }
    )
    handover, findings = read_of(*paths)
    assert findings == []
    assert handover.stay_start["10442"] == datetime(2026, 3, 2, 14, tzinfo=UTC)
    volume = measure(handover)["10442"].volume
    assert (volume.best_ml, volume.previous_best_ml, volume.stay_best_ml) == (1100, None, 1300)
    assert handover.earlier is not None
    assert handover.shift.start - handover.earlier.shift.end == timedelta(hours=84)


def test_an_order_that_changed_holds_as_the_latest_log_has_it() -> None:
    changed = PATIENT.replace("breaths: 10", "breaths: 5, every_h: 2, goal_ml: 1600")
    changed = changed.replace("10:00}", "12:00}")
    quiet = night(EVENING_ENTRY, shift=EVENING), night(entry("20:00"), changed)
    paths = written(dict(zip(("day.yaml", "night.yaml"), quiet, strict=True)))
    handover, findings = read_of(*paths)
    assert findings == []
    (patient,) = handover.patients
    assert patient.order is not None
    assert (patient.order.breaths, patient.order.every_h, patient.order.goal_ml) == (5, 2, 1600)
    assert handover.stay_start["10442"] == datetime(2026, 3, 6, 14, tzinfo=UTC)
    adherence = measure(handover)["10442"].adherence
    # the four hours from 19:00 to 22:00 and from 06:00 to 07:00
    assert adherence.breaths_due == pytest.approx(5 * 4 / 2)


PILE = {
    "day.yaml": night(EVENING_ENTRY, PATIENT + OTHER, shift=EVENING),
    "night.csv": table(
        UNIT_CELLS + ROW,
        ",,,,," + AGAIN + "21:4O,,,8,,,\n",
        header=UNIT_HEADER + HEADER,
    ),
    "half.yaml": night(
        ENTRY.replace("breaths: 8", "what: note, note: pale"),
        PATIENT.replace("12A", "5") + OTHER.replace("12A", "6"),
    ),
    "night.yaml": night(ENTRY + entry("20:10") + entry("2025-03-07 20:20")),
    "old.yaml": night(
        entry("2026-03-03 20:00"),
        PATIENT.replace("1958", "1985"),
        shift=shift("2026-03-03 19:00", "2026-03-04 07:00"),
    ),
    "overlap.yaml": night(ENTRY, shift=shift("2026-03-07 13:00", "2026-03-08 01:00")),
}


@settings(max_examples=few(15), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_the_order_of_the_files_does_not_matter(data: st.DataObject) -> None:
    names = sorted(data.draw(st.sets(st.sampled_from(sorted(PILE)), min_size=2)))
    paths = written({name: PILE[name] for name in names})
    first, _ = read_of(*paths)
    Path("mended.csv").write_bytes(set_aside_csv(first.logs).replace(b"4O", b"40"))
    paths = [*paths, "mended.csv", f"./{paths[0]}"]
    in_order, findings = read_of(*paths)
    shuffled = data.draw(st.permutations(paths))
    assert read_of(*shuffled) == (in_order, findings)
    assert in_order.counts.read == in_order.counts.used + in_order.counts.set_aside
