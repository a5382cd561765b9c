"""`handoff review`: its files, what it leaves out and says, its exit codes."""

import csv
import pickle
import re
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any
from unittest.mock import Mock

import pytest

from handoff.cli.main import main
from handoff.review import has_parquet
from handoff.run import review
from handoff.run.handovers import read_weeks
from tests.support.builders import default_limits
from tests.support.logs import options
from tests.support.unit_weeks import FIRST_NAMES, SURNAMES, Unit, write_logs

SMALL = Unit(beds=7, days=4)


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """Four days of a small unit."""
    return write_logs(tmp_path_factory.mktemp("logs"), SMALL, seed=5)


def rows(folder: Path) -> dict[tuple[str, str], dict[str, str]]:
    """The rows of review.csv by measure and group."""
    with (folder / "review.csv").open(encoding="utf-8-sig", newline="") as stream:
        return {(row["measure"], row["group"]): row for row in csv.DictReader(stream)}


def number(folder: Path, measure: str) -> str:
    return rows(folder)[measure, ""]["value"]


def test_every_number_is_a_row_and_no_file_names_anybody(
    logs: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert main(["review", *logs, "--out", str(out), "--tables"]) == 0
    said = capsys.readouterr()
    assert "Harbour 3 East, 2026-01-05 to 2026-01-08:" in said.out
    assert "in 8 logs" in said.out
    assert ("pip install 'handoff[tables]'" in said.out) is not has_parquet()
    known = rows(out)
    assert known["done.credited", ""]["denominator"]
    assert {name for name, _ in known} >= {
        *("begun.within_h", "curve.median_h", "done.not_charted.shift", "practice.blew"),
        *("told.told", "run.credited", "run.told.signal", "proportion.told.centre_percent"),
    }
    tables = {each.stem for each in (out / "tables").glob("*.csv")}
    assert tables == {"entries", "spans", "stays", "escalations"}
    written = "".join(path.read_text(encoding="utf-8-sig") for path in out.rglob("*.csv"))
    for word in (*SURNAMES, *FIRST_NAMES, "tired", "provider told"):
        assert word not in written
    assert not re.search(r"\b10[0-9]00[0-9]\b", written)  # ids


def test_one_log_that_cannot_be_read_costs_only_itself(
    logs: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = tmp_path / "torn.yaml"
    bad.write_text("unit: {name: Harbour", encoding="utf-8")
    out = tmp_path / "out"
    assert main(["review", *logs, str(bad), "--out", str(out)]) == 1
    said = capsys.readouterr()
    assert "torn.yaml" in said.err
    assert "1 log left out" in said.out
    assert (number(out, "logs.used"), number(out, "logs.not_used")) == ("8", "1")


def test_of_two_versions_of_one_log_neither_counts(
    logs: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = Path(logs[3]).read_text(encoding="utf-8")
    other = tmp_path / "again.yaml"
    other.write_text(text.replace("breaths: 10, flow", "breaths: 9, flow"), encoding="utf-8")
    out = tmp_path / "out"
    assert main(["review", *logs, str(other), "--out", str(out)]) == 1
    assert "two versions" in capsys.readouterr().err
    assert (number(out, "logs.used"), number(out, "logs.not_used")) == ("7", "2")
    assert main(["review", *logs, str(other), "--out", str(out), "--newest"]) == 0
    assert (number(out, "logs.used"), number(out, "logs.not_used")) == ("8", "0")


def test_a_time_without_a_log_is_said_and_nothing_is_put_in_for_it(
    logs: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    left_out = [each for each in logs if "2026-01-06-day" not in each]
    assert main(["review", *left_out, "--out", str(out)]) == 0
    assert "1 time without a log" in capsys.readouterr().out
    assert (number(out, "logs.gaps"), number(out, "logs.gaps_h")) == ("1", "12")
    assert ("done.credited.hour", "Tue 12:00") not in rows(out)
    assert ("done.credited.hour", "Wed 12:00") in rows(out)


def test_days_that_are_wanted_count_and_the_logs_before_tell_how_it_began(
    logs: list[str], tmp_path: Path
) -> None:
    whole, part = tmp_path / "whole", tmp_path / "part"
    assert main(["review", *logs, "--out", str(whole)]) == 0
    days = ["--from", "2026-01-06", "--to", "2026-01-07"]
    assert main(["review", *logs, "--out", str(part), *days]) == 0
    assert (number(part, "logs.given"), number(part, "logs.used")) == ("8", "4")
    assert number(part, "period.first") == "2026-01-06"
    assert int(number(part, "entries")) < int(number(whole, "entries"))
    both = [("done.credited.hour", "Tue 12:00"), ("done.not_charted.hour", "Wed 20:00")]
    assert [rows(part)[each] for each in both] == [rows(whole)[each] for each in both]
    assert ("done.credited.hour", "Mon 12:00") not in rows(part)


def test_days_without_a_shift_and_days_in_the_wrong_order_are_refused(
    logs: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert main(["review", *logs, "--out", str(out), "--from", "2027-01-01"]) == 2
    said = capsys.readouterr().err
    assert said.startswith(
        "error: --from, --to: no shift of Harbour 3 East starts on the wanted days"
    )
    wrong = ["--from", "2026-01-08", "--to", "2026-01-05"]
    assert main(["review", *logs, "--out", str(out), *wrong]) == 2
    assert not out.exists()


def test_each_unit_has_a_folder_and_two_processes_make_the_same_files(
    logs: list[str], tmp_path: Path
) -> None:
    (tmp_path / "west").mkdir()
    west = write_logs(tmp_path / "west", Unit("Harbour 3 West", beds=2, days=1), seed=6)
    one, two = tmp_path / "one", tmp_path / "two"
    assert main(["review", *logs, *west, "--out", str(one)]) in {0, 1}
    assert main(["review", *logs, *west, "--out", str(two), "--jobs", "2"]) in {0, 1}
    made = {str(each.relative_to(one)): each.read_bytes() for each in one.rglob("*.csv")}
    assert len(made) == 2
    assert {str(Path(each).name) for each in made} == {"review.csv"}
    assert made == {str(each.relative_to(two)): each.read_bytes() for each in two.rglob("*.csv")}


def test_the_workers_share_the_stays_and_the_tables_of_a_single_unit(
    logs: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(review, "STAYS_AT_ONCE", 3)
    units, _, _ = read_weeks(logs, options())
    weeks, limits = review.Weeks(with_tables=True), default_limits()
    ((_, alone),) = review.produce_reviews(units, limits, weeks)
    parts: list[int] = []
    tables: list[str] = []
    with ThreadPoolExecutor(1) as threads:

        def sent(task: Callable[..., Any], given: Any) -> Future[Any]:
            if isinstance(given, list):
                parts.append(len(given))
            else:
                tables.append(given[0])
            return threads.submit(*pickle.loads(pickle.dumps((task, given))))  # noqa: S301

        workers = Mock(submit=sent)
        ((_, shared),) = review.produce_reviews(units, limits, weeks, workers)
    assert len(parts) > 2
    assert set(parts[:-1]) == {3}
    assert tables == ["entries", "spans", "stays", "escalations"]
    assert {"review.pdf", "review.csv", "tables/spans.csv"} <= dict(alone).keys()
    assert shared == alone


def test_sheets_are_never_replaced_by_a_review(logs: list[str], tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "measures.json").write_text("{}", encoding="utf-8")
    assert main(["review", *logs, "--out", str(out)]) == 2
    assert (out / "measures.json").read_text(encoding="utf-8") == "{}"


@pytest.mark.skipif(not has_parquet(), reason="pyarrow is not installed")
def test_tables_as_parquet_are_those_as_csv(logs: list[str], tmp_path: Path) -> None:
    import pandas as pd  # noqa: PLC0415 - only where it is tried

    assert main(["review", *logs, "--out", str(tmp_path / "out"), "--tables"]) == 0
    for path in (tmp_path / "out" / "tables").glob("*.parquet"):
        table = pd.read_parquet(path)
        as_csv = path.with_suffix(".csv").read_text(encoding="utf-8")
        assert len(table) == as_csv.count("\n") - 1
