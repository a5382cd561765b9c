"""A log on disk, the only store: read, added to, replaced whole, backed up, made new.

Enters: a path, and how its text is to change. Leaves: the file, flushed to disk. Every change is
made under a lock on the log's folder, which all threads and processes of this program keep, from
reading the text to writing it. An addition is one write at the end of the file; any other change is
a new file put in the old one's place, so that a crash leaves the one or the other. Knows no page.
"""

import fcntl
import os
import stat
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

from handoff.bounds import USUAL
from handoff.desk.failures import EditError
from handoff.read import decode

MOST_BYTES = int(USUAL.size_mb * 2**20)
OWNER_ONLY = stat.S_IRUSR | stat.S_IWUSR
MOST_NAMES = 1000

Answer = TypeVar("Answer")
Edit = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Stamp:
    """What tells one content of a file from another without reading it."""

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

    The folder is locked and not the log, which another file may take the place of.
    """
    descriptor = _tried(lambda: os.open(Path(path).resolve().parent, os.O_RDONLY))
    try:
        fcntl.flock(descriptor, fcntl.LOCK_SH if shared else fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


def text_of(path: str) -> str:
    """The text of a log that is to be changed; its lock must be held."""
    return _decoded(path)[1]


def add(path: str, edit: Edit) -> None:
    """Write what `edit` puts into the log's text; its lock must be held.

    What is put at the end is written there, and all bytes before it stay untouched; where the disk
    is full, what was written is taken off again. What is put elsewhere is written as a change.
    """
    content, text, encoding = _decoded(path)
    edited = _encoded(edit(text), encoding)
    if not edited.startswith(content):
        _replace(path, edited)
        return
    with _telling(path), Path(path).open("r+b", buffering=0) as file:
        os.lseek(file.fileno(), len(content), os.SEEK_SET)
        try:
            _write(file.fileno(), edited[len(content) :])
        except OSError:
            file.truncate(len(content))
            raise


def change(path: str, edit: Edit) -> None:
    """Put the edited text in the log's place, with the log's rights; its lock must be held."""
    _, text, encoding = _decoded(path)
    _replace(path, _encoded(edit(text), encoding))


def back_up(path: str) -> Path:
    """A copy of the log as it is, beside it, named as no log is; its lock must be held."""
    moment = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    target = Path(path).resolve()
    return new_file(target.parent, f"{target.name}.{moment}.backup", _read(path))


def changed_copy(path: str, edit: Edit, word: str) -> Path:
    """The edited text in a new file beside the log, named with `word`; its lock must be held."""
    _, text, encoding = _decoded(path)
    target = Path(path)
    name = f"{target.stem}-{word}{target.suffix}"
    return new_file(target.parent, name, _encoded(edit(text), encoding))


def new_file(folder: Path, name: str, content: bytes) -> Path:
    """A new file for its owner only; with a number in its name where there is one of that name."""
    wanted = folder / name
    with _telling(str(wanted)):
        for number in range(1, MOST_NAMES):
            path = wanted if number == 1 else wanted.with_stem(f"{wanted.stem}-{number}")
            try:
                descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY)
            except FileExistsError:
                continue
            try:
                _write(descriptor, content)
            except OSError:
                path.unlink()
                raise
            finally:
                os.close(descriptor)
            _flush(folder)
            return path
    raise EditError(f"There are too many files named {name}. Clear up the folder and try again.")


def _replace(path: str, content: bytes) -> None:
    target = Path(path).resolve()
    with _telling(path):
        descriptor, temporary = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        try:
            os.fchmod(descriptor, stat.S_IMODE(target.stat().st_mode))
            _write(descriptor, content)
            Path(temporary).replace(target)
        finally:
            os.close(descriptor)
            Path(temporary).unlink(missing_ok=True)
        _flush(target.parent)


def _read(path: str) -> bytes:
    content = _tried(lambda: Path(path).read_bytes())
    if len(content) > MOST_BYTES:
        raise EditError("This file is larger than any log of one shift. Check that it is the log.")
    return content


def _decoded(path: str) -> tuple[bytes, str, str]:
    content = _read(path)
    text, encoding = decode(content) or ("", "")
    if not encoding or _encoded(text, encoding) != content:
        raise EditError(
            "The letters of this log are saved in a way that cannot be written back unchanged. "
            "Save it as UTF-8 text and open it again."
        )
    return content, text, encoding


def _encoded(text: str, encoding: str) -> bytes:
    try:
        return text.encode(encoding)
    except UnicodeEncodeError as error:
        raise EditError(_other_letters(encoding)) from error


def _other_letters(encoding: str) -> str:
    return (
        f"This log is saved as {encoding}, which lacks some of these letters. Leave them out, or "
        "save the log as UTF-8 and open it again."
    )


def _write(descriptor: int, content: bytes) -> None:
    left = memoryview(content)
    while left:
        left = left[os.write(descriptor, left) :]
    os.fsync(descriptor)


def _flush(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


@contextmanager
def _telling(path: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise EditError(
            f"{Path(path).name} cannot be written: {error.strerror}. Nothing was changed; make "
            "room or ask for the rights to that folder, and try again."
        ) from error


def _tried(action: Callable[[], Answer]) -> Answer:
    try:
        return action()
    except OSError as error:
        raise EditError(
            f"The log cannot be opened: {error.strerror}. Check that it is still in its folder."
        ) from error
