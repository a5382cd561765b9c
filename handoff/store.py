"""Bytes -> files, all or nothing.

Enters: relative file names and bytes, one after the other. Leaves: a folder that holds exactly
these files, readable by the owner only. The set is written beside the folder as it is made,
flushed to disk, and put in place by renaming, so that a crash leaves the old set or the new one
whole. Never merges with, and never removes, a folder that this program did not write.
"""

import os
import shutil
import stat
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

MARKER = "measures.json"
OWNER_ONLY = stat.S_IRWXU


class StoreError(Exception):
    """The files cannot be put in place; the message says why and how to mend it."""


@dataclass(frozen=True, slots=True)
class NewSet:
    """The files that will take the place of what `given` holds now, written to `folder`."""

    folder: Path
    given: str

    def write(self, name: str, content: bytes) -> None:
        """Add one file; `name` is relative. Raises `StoreError` where it cannot be written."""
        with _said_plainly(self.given):
            path = self.folder / name
            path.parent.mkdir(mode=OWNER_ONLY, parents=True, exist_ok=True)
            owner_only = stat.S_IRUSR | stat.S_IWUSR
            descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, owner_only)
            with os.fdopen(descriptor, "wb") as stream:
                stream.write(content)


@contextmanager
def storing(folder: str, *, replace: bool = True, keep: Iterable[str] = ()) -> Iterator[NewSet]:
    """A `NewSet` to write to, put in place as the whole content of `folder` when the block ends.

    An existing folder is replaced when it is empty or, with `replace`, an earlier set of sheets
    that holds no file of `keep`. Raises `StoreError` for any other folder, and where the disk or
    the rights do not allow it: then, and where the block raises, the earlier set is still in place,
    untouched.
    """
    target = Path(folder).resolve()
    _refuse_foreign(target, replace=replace)
    _refuse_what_is_read(target, keep)
    with _said_plainly(folder):
        target.parent.mkdir(parents=True, exist_ok=True)
        _restore(target)
        new = Path(tempfile.mkdtemp(prefix=f".{target.name}.new-", dir=target.parent))
    try:
        yield NewSet(new, folder)
        with _said_plainly(folder):
            _flush_all(new)
            _swap(new, target)
    finally:
        shutil.rmtree(new, ignore_errors=True)


@contextmanager
def _said_plainly(folder: str) -> Iterator[None]:
    """What the disk or the rights do not allow, in words for whoever named the folder."""
    try:
        yield
    except OSError as error:
        raise StoreError(
            f"cannot write to {folder}: {error.strerror}. Nothing was changed; give another folder "
            "with --out, or make room and rights there"
        ) from error


def _refuse_foreign(target: Path, *, replace: bool) -> None:
    """Only an empty folder, or one that holds an earlier set of sheets, may be replaced."""
    if not target.exists():
        return
    if not target.is_dir():
        raise StoreError(f"{target} is a file. Give a folder with --out")
    names = {child.name for child in target.iterdir()}
    is_earlier_set = MARKER in names or any(target.glob(f"*/{MARKER}"))
    if names and not (replace and is_earlier_set):
        raise StoreError(
            f"{target} holds other files, which would be lost. Give an empty or a new folder "
            "with --out"
        )


def _refuse_what_is_read(target: Path, keep: Iterable[str]) -> None:
    """A log that stands in the folder would be gone with it."""
    for path in keep:
        if target in Path(path).resolve().parents:
            raise StoreError(
                f"{path} stands in {target}, which would be replaced. Move it elsewhere first, or "
                "give another folder with --out"
            )


def _flush_all(folder: Path) -> None:
    """Everything under the folder safely on the disk, files before the folders that list them."""
    below = list(folder.rglob("*"))
    files = [path for path in below if path.is_file()]
    folders = [path for path in below if path.is_dir()]
    for path in (*files, *reversed(folders), folder):
        if path.is_dir():
            path.chmod(OWNER_ONLY)
        _flush(path)


def _swap(new: Path, target: Path) -> None:
    old = _old(target)
    if target.exists():
        target.rename(old)
    new.rename(target)
    _flush(target.parent)
    shutil.rmtree(old, ignore_errors=True)


def _restore(target: Path) -> None:
    """Mend what a run left that was ended between the two renames, and clear its leftovers."""
    old = _old(target)
    if old.exists():
        if target.exists():
            shutil.rmtree(old)
        else:
            old.rename(target)
    for left in target.parent.glob(f".{target.name}.new-*"):
        shutil.rmtree(left, ignore_errors=True)


def _old(target: Path) -> Path:
    return target.with_name(f".{target.name}.old")


def _flush(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
