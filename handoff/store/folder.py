"""Bytes -> files, all or nothing.

Input: relative file names and bytes, one after the other. Output: a folder that holds exactly these
files, readable by the owner only. The set is written beside the folder, flushed to disk, and put in
place by renaming: a crash leaves the old set or the new one whole. Never merges with, and never
removes, a folder that this program did not write.

Several runs may write to one folder at the same time. Each writes to a locked folder of its own,
and they are put in place one after the other. An unlocked new folder is left from a run that was
ended; the next run removes it.
"""

import glob
import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from handoff import portable
from handoff.model.frozen import Frozen
from handoff.model.refused import Refused

# What a set of each kind holds, its first file always: by these names an earlier one is known. Of
# several units each has a folder with these.
SHEETS = (
    *("measures.json", "measures.csv", "set-aside.csv", "unit-summary.pdf", "round-list.pdf"),
    *("trends.pdf", "patient-sheets.pdf", "patients/bed-*.pdf", "discharge/bed-*.pdf"),
    "fhir/bed-*.json",
)
REVIEW = ("review.csv", "review.pdf", "tables/*.csv", "tables/*.parquet")
CARDS = ("bedside-cards.pdf",)
OF_SYSTEMS = frozenset(
    {".DS_Store", "desktop.ini", "Thumbs.db"}
)  # left where a folder was looked at


class StoreError(Refused):
    """The files cannot be put in place; the message says why and how to mend it."""


class NewSet(Frozen):
    """The files that will replace the content of `given`, written to `folder`."""

    folder: Path
    given: str

    def write(self, name: str, content: bytes) -> None:
        """Add one file; `name` is relative. Raises `StoreError` where it cannot be written."""
        with _in_plain_words(self.given):
            path = self.folder / name
            _make_folder(path.parent)
            descriptor = portable.open_owners(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
            with os.fdopen(descriptor, "wb") as stream:
                portable.set_rights(descriptor)
                stream.write(content)


@contextmanager
def storing(
    folder: str, *, replaces: Sequence[str] = SHEETS, keep: Iterable[str] = ()
) -> Iterator[NewSet]:
    """A `NewSet` to write to, put in place as the whole content of `folder` when the block ends.

    An existing folder is replaced when it is empty, or an earlier set of the kind `replaces` and
    nothing else, with no file of `keep`; without `replaces` only when it is empty. Raises
    `StoreError` for any other folder, and where the disk or the rights do not allow it. Then, and
    where the block raises, the earlier set stays in place, untouched.
    """
    target = Path(os.path.realpath(folder))
    with ExitStack() as done:
        with _in_plain_words(folder):
            _refuse_foreign(target, replaces)
            _refuse_what_is_read(target, keep)
            _make_folder(target.parent)
            with portable.locked(target.parent):
                _bring_back(target)
                _clear_leftovers(target)
                new = Path(tempfile.mkdtemp(prefix=f".{target.name}.new-", dir=target.parent))
                portable.make_folder(new)
                done.callback(shutil.rmtree, new, ignore_errors=True)
                done.enter_context(portable.in_use(new))
                ours = new.stat()
        yield NewSet(new, folder)
        with _in_plain_words(folder):
            _flush_all(new)
            with portable.locked(target.parent):
                _bring_back(target)
                if not os.path.samestat(new.stat(), ours):
                    # A folder made again lacks the files written before.
                    raise StoreError(f"{new} was taken away while it was written to. Run it again")
                _refuse_foreign(target, replaces, new)
                _put_in_place(new, target)


def write_new(name: str, content: bytes) -> None:
    """Write one file that is not there yet, whole or not at all, for its owner only.

    Raises `StoreError` where something stands there already, and where the disk or the rights do
    not allow it.
    """
    target = Path(os.path.realpath(name))
    if os.path.lexists(name) or target.exists():
        raise StoreError(f"{name} is there already. Give a new file with --out")
    with ExitStack() as done, _in_plain_words(name, "file"):
        _clear_leftovers(target)
        descriptor, part = tempfile.mkstemp(prefix=f".{target.name}.new-", dir=target.parent)
        new = Path(part)
        done.callback(new.unlink, missing_ok=True)
        done.enter_context(portable.in_use(new))
        with os.fdopen(descriptor, "wb") as stream:
            stream.write(content)
        portable.flush(new)
        portable.move(new, target)
        portable.flush(target.parent)


@contextmanager
def _in_plain_words(given: str, what: str = "folder") -> Iterator[None]:
    """Raises `StoreError` for an error of the disk or the rights, in words for whoever named the
    folder or file.
    """
    try:
        yield
    except OSError as error:
        raise StoreError(
            f"cannot write to {given}: {portable.reason(error)}. Nothing was changed; give another "
            f"{what} with --out, or make room and rights there"
        ) from error


def _refuse_foreign(target: Path, replaces: Sequence[str], new: Path | None = None) -> None:
    """Only an empty folder, or one that holds an earlier set of the kind, may be replaced; by a
    `new` one only if they have a name in common, else it is a folder of earlier sets.
    """
    if not target.exists():
        return
    if not target.is_dir():
        raise StoreError(f"{target} is a file. Give a folder with --out")
    names = {child.name for child in target.iterdir()} - OF_SYSTEMS
    is_replaced = not new or not names.isdisjoint(child.name for child in new.iterdir())
    if names and not (is_replaced and _is_set(target, replaces)):
        raise StoreError(
            f"{target} holds other files, which would be lost. Give an empty or a new folder "
            "with --out"
        )


def _is_set(folder: Path, kind: Sequence[str]) -> bool:
    """Whether there is the file that the kind always has, and none that it has not."""
    has_first = False
    for each in folder.rglob("*"):
        if each.is_dir() or each.name in OF_SYSTEMS:
            continue
        if not any(each.match(name) for name in kind):
            return False
        has_first = has_first or each.match(kind[0])
    return has_first


def _refuse_what_is_read(target: Path, keep: Iterable[str]) -> None:
    """Refuses a folder with a log that this run reads: it would be lost."""
    for path in keep:
        if target in Path(path).resolve().parents:
            raise StoreError(
                f"{path} stands in {target}, which would be replaced. Move it elsewhere first, or "
                "give another folder with --out"
            )


def _make_folder(folder: Path) -> None:
    """Make the folder and its parents; each one made here is for its owner only."""
    if not folder.is_dir():
        if folder.exists():
            raise StoreError(f"{folder} is a file. Give a folder with --out")
        _make_folder(folder.parent)
        portable.make_folder(folder)


def _flush_all(folder: Path) -> None:
    """Flush everything under the folder to the disk, files before their folders."""
    below = list(folder.rglob("*"))
    files = [path for path in below if path.is_file()]
    folders = [path for path in below if path.is_dir()]
    for path in (*files, *reversed(folders), folder):
        portable.flush(path)


def _put_in_place(new: Path, target: Path) -> None:
    """Rename the new folder to the target, the other way round where there is one already.

    Where two folders cannot be exchanged, a crash between two renames leaves the earlier set under
    another name, from where the next run brings it back.
    """
    if not target.exists():
        portable.move(new, target)
    elif not portable.exchange(new, target):
        old = _old(target)
        try:
            portable.move(target, old)
        except OSError as error:
            if not portable.is_held_open(error):
                raise
            raise StoreError(
                f"{target} cannot be replaced while a program has one of its files open. Close the "
                "PDF first, and whatever else shows that folder, then run it again. The earlier "
                "sheets are as they were"
            ) from error
        try:
            portable.move(new, target)
        except OSError:
            portable.move(old, target)
            raise
        portable.move(old, new)
    portable.flush(target.parent)


def _bring_back(target: Path) -> None:
    """Restore the set of a run that was ended between two renames."""
    old = _old(target)
    if old.exists():
        if target.exists():
            shutil.rmtree(old)
        else:
            old.rename(target)


def _clear_leftovers(target: Path) -> None:
    """Remove what runs that were ended left; what is locked belongs to a running one."""
    for left in target.parent.glob(f".{glob.escape(target.name)}.new-*"):
        with suppress(BlockingIOError, FileNotFoundError), portable.in_use(left):
            if left.is_dir():
                shutil.rmtree(left, ignore_errors=True)
            else:
                left.unlink()


def _old(target: Path) -> Path:
    return target.with_name(f".{target.name}.old")
