"""Tasks handed to workers, and their results in the order of what they were made from.

Input: a task, what to do it for, and an executor or None for this process. Output: results, a few
tasks ahead of what is taken, so that memory stays flat. Loads no workers.
"""

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from typing import TYPE_CHECKING, Optional, TypeVar

if TYPE_CHECKING:  # slow to load, and most runs need none
    from concurrent.futures import Executor, Future

Given = TypeVar("Given")
Made = TypeVar("Made")

IN_FLIGHT = 8  # tasks handed out and not yet taken: enough for each worker, few enough to hold


def ordered_map(
    executor: Optional["Executor"], task: Callable[[Given], Made], given: Iterable[Given]
) -> Iterator[Made]:
    """Each result in the order of `given`; in this process each task is done when it is taken."""
    if executor is None:
        yield from map(task, given)
        return
    waiting = iter(given)
    ahead: deque[Future[Made]] = deque(
        executor.submit(task, each) for each in islice(waiting, IN_FLIGHT)
    )
    while ahead:
        made = ahead.popleft().result()
        for each in islice(waiting, 1):
            ahead.append(executor.submit(task, each))
        yield made
