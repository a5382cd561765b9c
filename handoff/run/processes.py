"""Worker processes, each with a pipe of its own.

Input: tasks. Output: their results, through the `concurrent.futures.Executor` interface. Knows
nothing of sheets.

The standard library's pool of processes shares one pipe between all of them. When one process is
killed while it writes, the others wait for the rest without end. Here only that process's pipe
ends.
"""

import multiprocessing
import pickle
import signal
import threading
import traceback
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Future, ThreadPoolExecutor
from contextlib import suppress
from functools import partial
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any, ParamSpec, TypeVar

from handoff import portable
from handoff.run.garbage import forget_seldom

Given = ParamSpec("Given")
Made = TypeVar("Made")

# Each process starts with these modules loaded, and with nothing else of this process.
LOADED = ["handoff.run.sheets"]


class ProcessExecutor(ThreadPoolExecutor):
    """`jobs` processes, and for each a thread that hands it tasks.

    A task, its arguments and its result must be picklable. A task whose process is killed raises
    `BrokenExecutor`.
    """

    def __init__(self, jobs: int) -> None:
        self._context = multiprocessing.get_context(portable.START_METHOD)
        self._context.set_forkserver_preload(LOADED)
        self._of_thread = threading.local()
        self._processes: list[BaseProcess] = []
        super().__init__(jobs, initializer=self._start)

    def submit(
        self, task: Callable[Given, Made], /, *given: Given.args, **named: Given.kwargs
    ) -> Future[Made]:
        """Give the task to the next free process."""
        return super().submit(self._done, partial(task, *given, **named))

    def __exit__(self, *_raised: object) -> None:
        """End all processes at once: results not taken by now are not needed."""
        self.shutdown(wait=False, cancel_futures=True)
        for process in self._processes:
            process.kill()
        self.shutdown()

    def _start(self) -> None:
        pipe, end = self._context.Pipe()
        process = self._context.Process(target=_work, args=(end,), daemon=True)
        process.start()
        self._processes.append(process)
        end.close()
        # Windows keeps the other end open in this process until that one has taken it: the pipe of
        # one that is ended before is never seen to end.
        if pipe in wait([pipe, process.sentinel]):
            with suppress(EOFError, OSError):
                pipe.recv()
        else:
            pipe.close()
        self._of_thread.pipe = pipe

    def _done(self, task: Callable[[], Made]) -> Made:
        pipe: Connection[Any, Any] = self._of_thread.pipe
        try:
            # Not by `send`, of whose buffers Python 3.13 complains on standard error where a
            # process is killed.
            pipe.send_bytes(pickle.dumps(task))
            made, fault = pickle.loads(pipe.recv_bytes())  # noqa: S301 - of our own process
        except (EOFError, OSError) as lost:
            raise BrokenExecutor("a process ended before its work was done") from lost
        if fault:
            raise fault
        return made  # type: ignore[no-any-return]


def _work(pipe: "Connection[Any, Any]") -> None:
    """Say that it has begun, then do each task that comes, until the pipe's other end is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the main process handles Ctrl-C
    forget_seldom()
    with suppress(EOFError, BrokenPipeError):
        pipe.send(None)
        while True:
            pipe.send_bytes(_made_or_fault(pipe.recv()))


def _made_or_fault(task: Callable[[], object]) -> bytes:
    """The task's result, or its exception, pickled."""
    try:
        return pickle.dumps((task(), None))
    except Exception as fault:  # noqa: BLE001 - raised again at the other end
        fault.add_note(traceback.format_exc())
        return _pickled(fault)


def _pickled(fault: Exception) -> bytes:
    """The exception, pickled; where it cannot be pickled and read back, another one
    that names it.
    """
    try:
        answer = pickle.dumps((None, fault))
        pickle.loads(answer)  # noqa: S301 - made on the line above
    except (pickle.PicklingError, AttributeError, TypeError):
        named = RuntimeError(f"{type(fault).__name__}, of a kind that stays in its process")
        named.add_note(traceback.format_exc())
        return pickle.dumps((None, named))
    return answer
