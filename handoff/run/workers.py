"""Starts the workers: none (this process), processes on this machine, or a cluster of machines.

Input: the user's options. Output: a `concurrent.futures.Executor`, or None for this process. Knows
nothing of sheets.
"""

import logging
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor
from contextlib import contextmanager

from handoff.model.refused import Refused

CONNECT_S = 10


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
            from handoff.run.processes import ProcessExecutor  # noqa: PLC0415 - only for several

            with ProcessExecutor(jobs) as executor:
                yield executor
        else:
            yield None
    except BrokenExecutor as error:
        raise WorkersError(
            "a worker process was ended before its work was done, for want of memory or by hand. "
            "Nothing was changed; run it again, with fewer --jobs where memory is short"
        ) from error


@contextmanager
def _cluster(address: str) -> Iterator[Executor]:
    """The workers of a running Dask cluster; it gives a lost worker's task to another."""
    try:
        # An optional dependency, loaded only here.
        from distributed import Client, KilledWorker  # noqa: PLC0415
        from distributed.comm.core import CommClosedError  # noqa: PLC0415
    except ImportError as error:
        raise WorkersError(
            "a cluster needs the extra packages of handoff[cluster]. Install them, or use --jobs"
        ) from error
    for name in ("distributed", "distributed.client"):  # errors are reported below in one line
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
