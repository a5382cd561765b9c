"""Who does the work changes nothing of it; a worker that falls out leaves nothing half done."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import psutil
import pytest
from distributed import LocalCluster

from handoff.cli import main as cli
from handoff.run.ordered_map import IN_FLIGHT, ordered_map
from handoff.run.workers import WorkersError, working
from tests.benchmarks.region import write_region
from tests.support.runs import content

UNITS, PATIENTS = 3, 4


class AtOnce(Executor):
    """Does each task when it is handed out, and counts them."""

    def __init__(self) -> None:
        self.submitted = 0

    def submit(self, task: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        self.submitted += 1
        future: Future[Any] = Future()
        future.set_result(task(*given, **named))
        return future


def test_results_come_in_order_and_only_a_few_ahead() -> None:
    executor = AtOnce()
    for taken, result in enumerate(
        ordered_map(executor, lambda each: each * 2, range(100)), start=1
    ):
        assert result == 2 * (taken - 1)
        assert executor.submitted <= taken + IN_FLIGHT
    assert executor.submitted == 100


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    return write_region(tmp_path_factory.mktemp("region"), UNITS, PATIENTS)


@pytest.fixture(scope="module")
def made_here(logs: list[str], tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    return sheets(logs, tmp_path_factory.mktemp("here") / "out")


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    with LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address="127.0.0.1:0"
    ) as started:
        yield started


def sheets(logs: list[str], out: Path, *options: str) -> dict[str, bytes]:
    assert cli.main(["sheets", *logs, "--out", str(out), *options]) == cli.DONE
    return content(out)


def test_a_pool_makes_the_same_bytes(
    logs: list[str], made_here: dict[str, bytes], tmp_path: Path
) -> None:
    assert len(made_here) == UNITS * (PATIENTS + 7)
    assert sheets(logs, tmp_path / "out", "--jobs", "2") == made_here


def test_a_cluster_makes_the_same_bytes(
    logs: list[str], made_here: dict[str, bytes], tmp_path: Path, cluster: LocalCluster
) -> None:
    assert sheets(logs, tmp_path / "out", "--dask", cluster.scheduler_address) == made_here


def fall_out(path: str) -> str:
    """Ends its worker by a signal that cannot be caught, the first time that it is run."""
    if not Path(path).exists():
        Path(path).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return "done"


def test_a_worker_of_a_pool_that_is_killed_ends_the_run_with_a_clear_error(tmp_path: Path) -> None:
    with pytest.raises(WorkersError, match="a worker process was ended"):
        done_by_two([str(tmp_path / "fell")])


def done_by_two(paths: list[str]) -> list[str]:
    with working(jobs=2) as executor:
        assert executor
        return list(ordered_map(executor, fall_out, paths))


class UnpicklableError(Exception):
    """Cannot be sent from one process to another."""

    def __reduce__(self) -> str:
        raise TypeError


class MadeFromTwoError(Exception):
    """Can be sent, and not be made again where it arrives."""

    def __init__(self, one: str, other: str) -> None:
        super().__init__(one + other)


def fail(kind: type[Exception]) -> None:
    raise kind(*["x"] * (2 if kind is MadeFromTwoError else 1))


@pytest.mark.parametrize("kind", [ValueError, UnpicklableError, MadeFromTwoError])
def test_a_fault_in_a_worker_of_a_pool_is_a_fault_of_its_own_name(kind: type[Exception]) -> None:
    with working(jobs=2) as executor, pytest.raises(Exception, match=r"^x|stays in") as raised:
        list(ordered_map(executor, fail, [kind]))
    assert kind.__name__ in f"{raised.type.__name__} {raised.value}"
    assert not isinstance(raised.value, WorkersError)
    assert "in fail" in "".join(raised.value.__notes__)


def test_what_a_worker_of_a_pool_cannot_send_back_is_a_fault() -> None:
    with working(jobs=2) as executor, pytest.raises(AttributeError, match="pickle"):
        list(ordered_map(executor, made_of_a_lambda, [1]))


def made_of_a_lambda(_given: int) -> Callable[[], None]:
    return lambda: None


def test_a_worker_of_a_cluster_that_is_killed_is_replaced_by_another(
    tmp_path: Path, cluster: LocalCluster
) -> None:
    with working(cluster=cluster.scheduler_address) as executor:
        assert executor
        assert list(ordered_map(executor, fall_out, [str(tmp_path / "fell")])) == ["done"]


def test_a_pool_that_loses_a_worker_in_the_middle_leaves_the_old_output_untouched(
    tmp_path: Path,
) -> None:
    logs = write_region(tmp_path, units=8, patients=8)
    out = tmp_path / "out"
    before = sheets(logs[:8], out)
    command = [sys.executable, "-m", "handoff", "sheets", *logs, "--out", str(out), "--jobs", "2"]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as run:
        wait_for(lambda: list(tmp_path.glob(".out.new-*/*/*.json")))
        one_of_its_workers(run.pid).kill()
        _, said = run.communicate(timeout=60)
    assert run.returncode == cli.NOTHING_PRODUCED
    assert said.splitlines()[-1].startswith("handoff: a worker process was ended")
    assert content(out) == before
    assert not list(tmp_path.glob(".out*"))


def one_of_its_workers(pid: int) -> psutil.Process:
    """A process that the pool's server of processes has started."""
    children = psutil.Process(pid).children(recursive=True)
    return next(child for child in children if child.ppid() != pid)


def wait_for(sign: Callable[[], object]) -> None:
    for _ in range(6000):
        if sign():
            return
        time.sleep(0.05)
    raise AssertionError("nothing is written")


def test_a_cluster_that_does_not_answer_is_named(
    logs: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: Any
) -> None:
    monkeypatch.setattr("handoff.run.workers.CONNECT_S", 0.2)
    address = "tcp://127.0.0.1:9"
    options = ["sheets", *logs, "--out", str(tmp_path / "out"), "--dask", address]
    assert cli.main(options) == cli.NOTHING_PRODUCED
    assert f"no Dask cluster answers at {address}" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_a_cluster_without_its_packages_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(WorkersError, match=r"handoff\[cluster\]"),
        working(cluster="tcp://127.0.0.1:9"),
    ):
        pass


@pytest.mark.parametrize("jobs", ["0", "-1", "two", "1000", "1.5"])
def test_jobs_are_a_whole_number(jobs: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        cli.main(["sheets", "night.yaml", "--out", "out", "--jobs", jobs])
    assert "a whole number from 1 to" in capsys.readouterr().err
