"""A log on disk, the only store: read, added to, replaced whole, backed up, made new.

Input: a path, and the text that it is to have. Output: the file, flushed to disk. Every change
holds a lock on the log's folder from reading the text to writing it; all threads and processes of
this program respect it. An addition is one write at the end of the file. Any other change is a new
file that replaces the old one: after a crash either one is there, whole. Never overwrites text that
another program wrote meanwhile. Knows no page.
"""

import os
import stat
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from handoff import portable
from handoff.desk.edits.failures import EditError
from handoff.model.bounds import USUAL
from handoff.model.frozen import Frozen
from handoff.read import JSON, WORKBOOK, decode

MOST_BYTES = int(USUAL.size_mb * 2**20)
OWNER_ONLY = stat.S_IRUSR | stat.S_IWUSR
ANYBODY_WRITES = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH
MOST_NAMES = 1000
_READ_ONLY = {WORKBOOK: "shown.workbook", JSON: "shown.copy"}

Answer = TypeVar("Answer")


class Stamp(Frozen):
    """File data that shows a change of content without reading it."""

    modified_ns: int
    size: int
    inode: int


def stamp(path: str) -> Stamp | None:
    """The file's stamp; None where there is no such file."""
    try:
        found = Path(path).stat()
    except OSError:
        return None
    return Stamp(found.st_mtime_ns, found.st_size, found.st_ino)


@contextmanager
def locked(path: str, *, shared: bool = False) -> Iterator[None]:
    """Nobody else changes a log of this folder; `shared`: others may read it too.

    The folder is locked and not the log, which may be replaced by another file.
    """
    with ExitStack() as lock:
        folder = portable.locked(Path(path).resolve().parent, shared=shared)
        _tried(lambda: lock.enter_context(folder))
        yield


class LogText(Frozen):
    """A log as it was read, to be changed."""

    path: str
    content: bytes
    text: str
    encoding: str

    def encoded(self, text: str) -> bytes:
        """Another text in the encoding of the log."""
        try:
            return text.encode(self.encoding)
        except UnicodeEncodeError as error:
            raise EditError("lacks-letters", encoding=self.encoding) from error


def read_only(paths: Iterable[str]) -> list[str]:
    """A sentence on each log that the desk shows and writes nothing in."""
    names = ((Path(path).name, Path(path).suffix.lower()) for path in paths)
    return [
        str(EditError(_READ_ONLY[suffix], log=name))
        for name, suffix in names
        if suffix in _READ_ONLY
    ]


def read_log(path: str) -> LogText:
    """The log, to be changed; raises `EditError` where it could not be written back as it was."""
    kind = _READ_ONLY.get(Path(path).suffix.lower())
    if kind:
        raise EditError(kind, log=Path(path).name)
    content = _tried(lambda: Path(path).read_bytes())
    if len(content) > MOST_BYTES:
        raise EditError("log-too-large")
    text, encoding = decode(content) or ("", "utf-8")
    log = LogText(path, content, text, encoding)
    if log.encoded(text) != content:
        raise EditError("letters-would-change")
    return log


def add(log: LogText, edited: str) -> None:
    """Write the text that was added to the log; the log's lock must be held.

    Text added at the end is appended, and all bytes before it stay untouched. On a full disk the
    appended part is removed again. Text added elsewhere is written as a change.
    """
    content = log.encoded(edited)
    if not content.startswith(log.content):
        change(log, edited)
        return
    _refuse_if_behind(log)
    append(Path(log.path), content[len(log.content) :])


def append(path: Path, content: bytes) -> None:
    """Add to the end of a file, or make it for its owner only; the log's lock must be held. Nothing
    is added where not everything can be.
    """
    flags = os.O_RDWR | os.O_APPEND | os.O_CREAT
    with _telling(str(path)):
        descriptor = portable.open_owners(path, flags)
        size = os.fstat(descriptor).st_size
        try:
            _write(descriptor, content)
        except OSError:
            os.ftruncate(descriptor, size)
            raise
        finally:
            os.close(descriptor)


def change(log: LogText, edited: str) -> None:
    """Replace the log by the edited text, with the log's rights; its lock must be held."""
    _refuse_if_behind(log)
    target = Path(log.path).resolve()
    with _telling(log.path):
        mode = stat.S_IMODE(target.stat().st_mode)
        _put(target, log.encoded(edited), mode)


def back_up(log: LogText, now: datetime) -> Path:
    """A copy beside the log, named so that it is not taken for a log; its lock must be held."""
    moment = now.strftime("%Y%m%dT%H%M%SZ")
    target = Path(log.path).resolve()
    return new_file(target.parent, f"{target.name}.{moment}.before", log.content)


def changed_copy(log: LogText, edited: str, word: str) -> Path:
    """The edited text in a new file beside the log, named with `word`; its lock must be held."""
    beside = Path(log.path)
    name = f"{beside.stem}-{word}{beside.suffix}"
    return new_file(beside.parent, name, log.encoded(edited))


def new_file(folder: Path, name: str, content: bytes) -> Path:
    """A new file for its owner only; with a number in its name where there is one of that name."""
    wanted = folder / name
    with _telling(str(wanted)):
        for number in range(1, MOST_NAMES):
            path = wanted if number == 1 else wanted.with_stem(f"{wanted.stem}-{number}")
            try:
                # An empty file reserves the name first, and the whole content then replaces it.
                os.close(portable.open_owners(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL))
            except FileExistsError:
                continue
            try:
                _put(path, content, OWNER_ONLY)
            except OSError:
                path.unlink()
                raise
            return path
    raise EditError("too-many-files", name=name)


def _refuse_if_behind(log: LogText) -> None:
    """Refuse to write into a log that is set read-only, which a new file in its place would not
    respect; and to overwrite a newer file: a spreadsheet or editor respects no lock, and its text
    must stay.
    """
    mode = _tried(lambda: Path(log.path).stat().st_mode)
    if not mode & ANYBODY_WRITES or not os.access(log.path, os.W_OK):
        raise EditError("read-only", log=Path(log.path).name)
    if _tried(lambda: Path(log.path).read_bytes()) != log.content:
        raise EditError("just-saved")


def _put(target: Path, content: bytes, mode: int) -> None:
    """Write beside the target, flush, and rename."""
    descriptor, temporary = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    try:
        try:
            portable.set_rights(descriptor, mode)
            _write(descriptor, content)
        finally:
            os.close(descriptor)
        portable.move(Path(temporary), target)
    finally:
        Path(temporary).unlink(missing_ok=True)
    portable.flush(target.parent)


def _write(descriptor: int, content: bytes) -> None:
    left = memoryview(content)
    while left:
        left = left[os.write(descriptor, left) :]
    os.fsync(descriptor)


@contextmanager
def _telling(path: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise EditError("not-writable", log=Path(path).name, why=portable.reason(error)) from error


def _tried(action: Callable[[], Answer]) -> Answer:
    try:
        return action()
    except OSError as error:
        raise EditError("not-opened", why=portable.reason(error)) from error
