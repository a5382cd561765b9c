"""What Linux, macOS and their kin do in their own way.

Input, output: as the functions say; `windows.py` has the same ones. Imports nothing of the program.
"""

import ctypes
import errno
import fcntl
import os
import resource
import signal
import stat
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import socket

# mypy reads the rest for these systems only.
assert sys.platform != "win32"  # noqa: S101

START_METHOD: Final = "forkserver"  # how a process of `multiprocessing` begins
_OWNERS_FOLDER, _OWNERS_FILE = stat.S_IRWXU, stat.S_IRUSR | stat.S_IWUSR


@contextmanager
def locked(folder: Path, *, shared: bool = False) -> Iterator[None]:
    """Waits until nobody else has the folder locked, then keeps it locked; `shared`: others may
    have it so too. On a file system without locks it locks nothing.
    """
    with _locked(folder, fcntl.LOCK_SH if shared else fcntl.LOCK_EX):
        yield


@contextmanager
def in_use(path: Path) -> Iterator[None]:
    """Marks a file or folder as being written by this process, until the block or the process ends.

    Raises BlockingIOError where another process has marked it.
    """
    with _locked(path, fcntl.LOCK_EX | fcntl.LOCK_NB):
        yield


@contextmanager
def _locked(path: Path, how: int) -> Iterator[None]:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        try:
            fcntl.flock(descriptor, how)
        except BlockingIOError:
            raise
        except OSError:
            pass  # a file system without locks
        yield
    finally:
        os.close(descriptor)


def flush(path: Path) -> None:
    """Flush a file, or a folder's list of files, to the disk. Raises OSError."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def open_owners(path: Path, flags: int) -> int:
    """The descriptor of a file, in bytes; one that is made here is for its owner only."""
    return os.open(path, flags, _OWNERS_FILE)


def set_rights(descriptor: int, mode: int = _OWNERS_FILE) -> None:
    """Give an open file these rights, whatever the umask is."""
    os.fchmod(descriptor, mode)


def make_folder(folder: Path) -> None:
    """Make a folder for its owner only, where there is none."""
    folder.mkdir(exist_ok=True)
    folder.chmod(_OWNERS_FOLDER)  # whatever the umask is


def others_may_read(descriptor: int) -> bool:
    """Whether anybody but the owner may read an open file."""
    return bool(os.fstat(descriptor).st_mode & (stat.S_IRWXG | stat.S_IRWXO))


def move(path: Path, target: Path) -> None:
    """Give a file or folder another name, where there may be another file, or an empty folder."""
    path.replace(target)


def exchange(one: Path, other: Path) -> bool:
    """Exchange two folders atomically (renameat2 of Linux); False where that is not available."""
    at_cwd, swap = -100, 2
    renameat2 = getattr(ctypes.CDLL(None), "renameat2", None)
    names = at_cwd, os.fsencode(one), at_cwd, os.fsencode(other)
    return renameat2 is not None and renameat2(*names, swap) == 0


def reason(error: OSError) -> str:
    """Why the system refused something, in its own words."""
    return error.strerror or type(error).__name__


def is_held_open(error: OSError) -> bool:  # noqa: ARG001
    """Whether it was refused because a program has the file open, which is no reason here."""
    return False


@contextmanager
def alarm(look: Callable[[], None], every_s: float, tidy_s: float) -> Iterator[None]:
    """Calls `look` in the main thread every so often, whatever the block does.

    When it raises, the block ends, and it is called again only after `tidy_s`: time to tidy up.
    Only the main thread may use it.
    """

    def ring(_signal: int, _frame: FrameType | None) -> None:
        signal.setitimer(signal.ITIMER_REAL, tidy_s, tidy_s)
        look()
        signal.setitimer(signal.ITIMER_REAL, every_s, every_s)

    handler = signal.signal(signal.SIGALRM, ring)
    timer = signal.setitimer(signal.ITIMER_REAL, every_s, every_s)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, *timer)
        signal.signal(signal.SIGALRM, handler)


def peak_memory_mb() -> float:
    """The most memory that this process has had at once."""
    per_mb = 2**20 if sys.platform == "darwin" else 2**10
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / per_mb


def claim(listener: "socket.socket") -> None:
    """See to it that a port is this program's alone, and can be taken again soon after it ended."""
    import socket  # noqa: PLC0415 - only the desk opens a port

    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)


def is_taken(error: OSError) -> bool:
    """Whether a port was refused because another program has it."""
    return error.errno == errno.EADDRINUSE
