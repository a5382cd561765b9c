"""What was typed into a form and is not saved yet: kept until it is saved or thrown away.

Input: the fields of a form, as a page sends them while somebody types. Output: the same fields, for
the same form. They are in one file of the logs' folder, for its owner only, and outlive a killed
desk; a browser keeps nothing. No draft is part of a log, and none is read by the stages.

The keys in a form's address are of one run. The file therefore has the secret that they were made
with, and the next run goes on with it: a draft is put back into the form of the same patient, or
into none.
"""

import json
import os
import secrets
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from msgspec.structs import asdict

from handoff import portable
from handoff.desk.edits import logbook
from handoff.desk.edits.failures import EditError
from handoff.model.frozen import Frozen

NAME = ".handoff-drafts"
MOST_DRAFTS, LONGEST_DRAFT = 100, 100_000  # far more than is ever typed


class Draft(Frozen):
    """A form as typed so far: the name and the value of each field, in order.

    `words` say which form it is, `address` is its page, and `at` the time when it was kept.
    """

    name: str
    address: str
    words: str
    typed: str
    at: str


class Drafts:
    """The drafts of a folder of logs."""

    def __init__(self, folder: Path) -> None:
        left = sorted(each for each in folder.glob(f"{NAME}-*") if each.suffix != ".new")
        secret, _ = _read(left[0]) if left else (b"", {})
        self.secret = secret or secrets.token_bytes(32)
        # Desks that began without drafts have a file each.
        self._path = left[0] if secret else folder / f"{NAME}-{secrets.token_hex(8)}"

    def all(self) -> dict[str, Draft]:
        """The drafts by name, as they are on disk: another desk of the folder may write too."""
        return _read(self._path)[1]

    def keep(self, draft: Draft | None, was: str = "") -> None:
        """Keep a draft instead of the one of the name `was`; raises `EditError` where it cannot."""
        if draft and len(draft.typed) > LONGEST_DRAFT:
            raise EditError("draft-too-long")
        with self._changed() as drafts:
            drafts.pop(was, None)
            if draft:
                drafts[draft.name] = draft
            if len(drafts) > MOST_DRAFTS:
                raise EditError("too-many-drafts")

    @contextmanager
    def _changed(self) -> Iterator[dict[str, Draft]]:
        """The drafts, to be changed and written again; without any there is no file."""
        with logbook.locked(str(self._path)):
            drafts = self.all()
            yield drafts
            if drafts:
                kept = {"secret": self.secret.hex(), "drafts": [*map(asdict, drafts.values())]}
                _write(self._path, json.dumps(kept).encode())
            else:
                self._path.unlink(missing_ok=True)


def now() -> str:
    """The time by this machine's clock, for a draft."""
    return time.strftime("%Y-%m-%d %H:%M")


def _read(path: Path) -> tuple[bytes, dict[str, Draft]]:
    """The secret and the drafts of a file; nothing where there is none, or it is no such file."""
    try:
        kept = json.loads(path.read_bytes())
        drafts = [Draft(**each) for each in kept["drafts"]]
        return bytes.fromhex(kept["secret"]), {each.name: each for each in drafts}
    except (OSError, ValueError, TypeError, KeyError):
        return b"", {}


def _write(path: Path, content: bytes) -> None:
    """Replace the file; after a crash the old one or the new one is there, whole."""
    beside = path.with_name(f"{path.name}.new")
    try:
        descriptor = portable.open_owners(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        portable.move(beside, path)
    except OSError as error:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
        raise EditError("draft-not-kept", why=portable.reason(error)) from error
