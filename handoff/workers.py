"""Who does the work: this process, a pool of processes on this machine, or a cluster of machines.

Enters: what the user asks for. Leaves: a `concurrent.futures.Executor`, or None for this process;
and results in the order of what they were made from. Knows nothing of sheets.
"""

import logging
import multiprocessing
import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import (
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import contextmanager
from itertools import islice
from typing import TypeVar

from handoff.refused import Refused

Given = TypeVar("Given")
Made = TypeVar("Made")

CONNECT_S = 10
IN_FLIGHT = 8  # tasks handed out and not yet taken: enough for each worker, few enough to hold


class WorkersError(Refused):
    """The workers cannot do the work; the message says why and how to mend it."""


@contextmanager
def working(jobs: int = 1, cluster: str | None = None) -> Iterator[Executor | None]:
    """The executor for `jobs` processes of this machine or for the Dask cluster at an address.

    None for one job: this process. Raises `WorkersError` where the cluster cannot be used, and
    where a worker ends in the middle of its work.
    """
    try:
        if cluster:
            with _cluster(cluster) as executor:
                yield executor
        elif jobs > 1:
            with _pool(jobs) as executor:
                # All of them are there before the work begins: a worker that starts while another
                # falls out would be waited for without end.
                wait([executor.submit(os.getpid) for _ in range(jobs)])
                try:
                    yield executor
                finally:
                    executor.shutdown(wait=False, cancel_futures=True)
        else:
            yield None
    except BrokenExecutor as error:
        raise WorkersError(
            "a worker process was ended before its work was done, for want of memory or by hand. "
            "Nothing was changed; run it again, with fewer --jobs where memory is short"
        ) from error


def _pool(jobs: int) -> Executor:
    """Processes that start with the heavy libraries loaded and nothing else of this one."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["handoff.produce"])
    return ProcessPoolExecutor(jobs, mp_context=context)


@contextmanager
def _cluster(address: str) -> Iterator[Executor]:
    """The workers of a Dask cluster that runs already; it gives a lost worker's task to another."""
    try:
        # An extra, loaded where it is asked for.
        from distributed import Client, KilledWorker  # noqa: PLC0415
        from distributed.comm.core import CommClosedError  # noqa: PLC0415
    except ImportError as error:
        raise WorkersError(
            "a cluster needs the extra packages of handoff[cluster]. Install them, or use --jobs"
        ) from error
    for name in ("distributed", "distributed.client"):  # what goes wrong is said here in one line
        logging.getLogger(name).setLevel(logging.CRITICAL)
    try:
        client = Client(address, timeout=CONNECT_S)
    except (OSError, ValueError) as error:
        raise WorkersError(
            f"no Dask cluster answers at {address}. Start its scheduler, or correct the address"
        ) from error
    try:
        with client:
            yield client.get_executor(pure=False)
    except (CommClosedError, KilledWorker, CancelledError) as error:
        raise WorkersError(
            f"the Dask cluster at {address} was lost before its work was done. Nothing was "
            "changed; see that its scheduler and workers run, and run it again"
        ) from error


def in_order(
    executor: Executor, task: Callable[[Given], Made], given: Iterable[Given]
) -> Iterator[Made]:
    """Each result in the order of `given`, only a few tasks ahead, so that memory stays flat."""
    waiting = iter(given)
    ahead: deque[Future[Made]] = deque(
        executor.submit(task, each) for each in islice(waiting, IN_FLIGHT)
    )
    while ahead:
        made = ahead.popleft().result()
        for each in islice(waiting, 1):
            ahead.append(executor.submit(task, each))
        yield made
