"""What Windows does in its own way.

Input, output: as the functions say; `posix.py` has the same ones. Imports nothing of the program.

An open file cannot be renamed, replaced or removed, and neither can a folder with one in it. A
folder cannot be opened, and so neither be locked nor flushed: a lock is a file. Rights are lists
that a folder hands down to what is made in it, and not bits of a mode.
"""

import errno
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Final

import psutil

if TYPE_CHECKING:
    import socket

START_METHOD: Final = "spawn"  # how a process of `multiprocessing` begins
LOCK = ".handoff.lock"  # in a folder while it is locked
_RETRY_S, _TRIES = 0.02, 3
_MOVES_FOR_S = 2.0  # as long as a virus scanner may keep new files open: common practice
_BINARY = getattr(os, "O_BINARY", 0)  # else each line break becomes two characters
_OWNERS_FOLDER, _OWNERS_FILE = 0o700, 0o600
_LOCKED = {errno.EACCES, errno.EDEADLK, 0}  # by somebody else; Wine says 0
_OF_SOCKETS = 10_000  # errors from here on have no words but the system's own
_PORT_REFUSED = {errno.EADDRINUSE, errno.EACCES, 10013, 10048}  # and WSAEACCES, WSAEADDRINUSE


@contextmanager
def locked(folder: Path, *, shared: bool = False) -> Iterator[None]:
    """Waits until nobody else has the folder locked, then keeps it locked. There are no shared
    locks: `shared` says that nothing will be written, and locks nothing where nothing may be.
    """
    folder.stat()  # a folder that is not there raises FileNotFoundError
    with ExitStack() as lock:
        try:
            lock.enter_context(_held(folder / LOCK, wait=True))
        except PermissionError:
            if not shared:
                raise
        yield


@contextmanager
def in_use(path: Path) -> Iterator[None]:
    """Marks a file or folder as being written by this process, until the block or the process ends.

    Raises BlockingIOError where another process has marked it. The mark is a file beside it: what
    has an open file in it could not be put in place.
    """
    with _held(path.with_name(f".lock{path.name}"), wait=False):
        yield


@contextmanager
def _held(lock: Path, *, wait: bool) -> Iterator[None]:
    """Holds a lock file, and takes it away where nobody else has it open: then nobody waits."""
    while (descriptor := _opened(lock)) is None:
        if not wait:
            raise BlockingIOError(errno.EAGAIN, os.strerror(errno.EAGAIN), str(lock))
        time.sleep(_RETRY_S)
    try:
        yield
    finally:
        os.close(descriptor)
        with suppress(PermissionError):
            lock.unlink(missing_ok=True)


def _opened(lock: Path) -> int | None:
    """The descriptor of a lock file that is locked now; None where somebody else has it locked.

    A file that is just being taken away may not be opened for a moment.
    """
    for left in reversed(range(_TRIES)):
        try:
            descriptor = os.open(lock, os.O_RDWR | os.O_CREAT, _OWNERS_FILE)
            break
        except PermissionError:
            if not left:
                raise
            time.sleep(_RETRY_S)
    if _take(descriptor):
        return descriptor
    os.close(descriptor)
    return None


def _take(descriptor: int) -> bool:
    """Lock an open file until it is closed; False where somebody else has it locked."""
    if sys.platform == "win32":
        import msvcrt  # noqa: PLC0415 - only there

        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError as error:
            if error.errno not in _LOCKED:
                raise
            return False
    return True


def flush(path: Path) -> None:
    """Flush a file to the disk; a folder's list of files cannot be. Raises OSError."""
    if path.is_dir():
        return
    descriptor = os.open(path, os.O_RDWR | _BINARY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def open_owners(path: Path, flags: int) -> int:
    """The descriptor of a file, in bytes. Who may read one that is made here is what its folder
    says.
    """
    return os.open(path, flags | _BINARY, _OWNERS_FILE)


def set_rights(descriptor: int, mode: int = _OWNERS_FILE) -> None:
    """Nothing: a file has the rights that its folder hands down."""


def make_folder(folder: Path) -> None:
    """Make a folder, where there is none: for its owner and the machine's administrators only, with
    Python 3.12.4 or newer (CVE-2024-4030); before, who may read it is what its parent says.
    """
    folder.mkdir(mode=_OWNERS_FOLDER, exist_ok=True)


def others_may_read(descriptor: int) -> bool:  # noqa: ARG001
    """False: it cannot be told from a mode."""
    return False


def move(path: Path, target: Path) -> None:
    """Give a file or folder another name, where there may be another file. A virus scanner may keep
    new files open for a moment, so that it is tried for a while.
    """
    late = time.monotonic() + _MOVES_FOR_S
    while True:
        try:
            path.replace(target)
        except PermissionError:
            if time.monotonic() > late:
                raise
            time.sleep(_RETRY_S)
        else:
            return


def exchange(one: Path, other: Path) -> bool:  # noqa: ARG001
    """False: two folders cannot be exchanged."""
    return False


def reason(error: OSError) -> str:
    """Why the system refused something, in the words of the other systems: Windows's own are in the
    language of the machine.
    """
    words = error.strerror or type(error).__name__
    if error.errno is not None and error.errno < _OF_SOCKETS:
        words = os.strerror(error.errno)
    held = "; if another program has it open, close it there"
    return f"{words}{held}" if is_held_open(error) else words


def is_held_open(error: OSError) -> bool:
    """Whether it was refused perhaps because a program has the file, or one in the folder, open."""
    return isinstance(error, PermissionError)


@contextmanager
def alarm(look: Callable[[], None], every_s: float, tidy_s: float) -> Iterator[None]:
    """Calls `look` in the main thread every so often, whatever the block does but wait for the
    system.

    When it raises, the block ends, and it is called again only after `tidy_s`: time to tidy up.
    Only the main thread may use it. There is no timer that interrupts a program: another thread
    raises a signal that nobody else sends here.
    """
    ended = threading.Event()
    pause_s = every_s

    def ring(_signal: int, _frame: FrameType | None) -> None:
        nonlocal pause_s
        if not ended.is_set():
            pause_s = tidy_s
            look()
            pause_s = every_s

    def watch() -> None:
        while not ended.wait(pause_s):
            signal.raise_signal(signal.SIGTERM)

    before = signal.signal(signal.SIGTERM, ring)
    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        ended.set()
        watcher.join()
        signal.signal(signal.SIGTERM, before)


def peak_memory_mb() -> float:
    """The most memory that this process has had at once."""
    memory = psutil.Process().memory_info()
    return float(getattr(memory, "peak_wset", memory.rss)) / 2**20


def claim(listener: "socket.socket") -> None:
    """See to it that a port is this program's alone: another one could take it too."""
    import socket  # noqa: PLC0415 - only the desk opens a port

    if sys.platform == "win32":
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)


def is_taken(error: OSError) -> bool:
    """Whether a port was refused because another program has it."""
    return error.errno in _PORT_REFUSED
