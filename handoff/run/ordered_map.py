"""Hands tasks to workers, and gives their results in the order of the input.

Input: a task, its inputs, and an executor, or None for this process. Output: results. Only a few
tasks are ahead of the results taken: memory stays flat. Starts no workers.
"""

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from typing import TYPE_CHECKING, Optional, TypeVar

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future

Given = TypeVar("Given")
Made = TypeVar("Made")

IN_FLIGHT = (
    8  # tasks whose results are not yet taken: enough for each worker, few enough for memory
)
_WAIT_S = 0.2


def ordered_map(
    executor: Optional["Executor"], task: Callable[[Given], Made], given: Iterable[Given]
) -> Iterator[Made]:
    """The results in the order of `given`. In this process a task is done when its
    result is taken.
    """
    if executor is None:
        yield from map(task, given)
        return
    from concurrent.futures import wait  # noqa: PLC0415 - slow to load, and most runs need none

    waiting = iter(given)
    ahead: deque[Future[Made]] = deque(
        executor.submit(task, each) for each in islice(waiting, IN_FLIGHT)
    )
    while ahead:
        first = ahead.popleft()
        while not first.done():  # one wait without end hears no Ctrl-C and no alarm on Windows
            wait([first], _WAIT_S)
        made = first.result()
        for each in islice(waiting, 1):
            ahead.append(executor.submit(task, each))
        yield made
