"""What is wrong with a log, as values: `Place`, `Finding`, and the one text form of a finding.

Input: nothing. Output: the types every stage reports with. Never raises, never prints.
"""

import re
from collections.abc import Iterable
from enum import StrEnum

from msgspec.structs import replace

from handoff.model.frozen import Frozen
from handoff.model.wording import FINDINGS

# A resource by its type and id, or by its entry where no id tells it from others.
_RESOURCE = re.compile(r"Bundle\.entry\[\d+\]|[^.]*")


class Severity(StrEnum):
    """How much a finding costs the reader of the sheet."""

    ERROR = "error"  # a cell or a row is lost
    WARNING = "warning"  # used as written, or read as the finding states, or a repeat
    NOTE = "note"  # nothing is lost; for information


class Place(Frozen):
    """A place in a log: the file as the user named it, the line, the column.

    `line` counts from 1 (None: the whole file). `column` is the name as written in the file: a
    CSV header cell such as `Volume (mL)`, or a YAML key path such as `order.goal_ml`. In a
    workbook `line` is the row of the `sheet`, and `letter` the column as the spreadsheet names it.
    In a Bundle `line` is the number of the entry, and `at` the resource in it and the element:
    `Observation/o-17.valueQuantity`.
    """

    file: str
    line: int | None = None
    column: str | None = None
    sheet: str | None = None
    letter: str | None = None
    at: str | None = None

    @property
    def row(self) -> "Place":
        """The place of the whole row."""
        resource = _RESOURCE.match(self.at) if self.at else None
        return replace(self, column=None, letter=None, at=resource[0] if resource else None)

    @property
    def order(self) -> tuple[str, int]:
        """What sorts by file, then by line; the whole file comes first."""
        return self.file, self.line or 0

    def __str__(self) -> str:
        if self.line is None:
            return self.file
        if self.at is not None:
            return f"{self.file} {self.at}"
        within = "" if self.sheet is None else f"{self.sheet}!{self.letter or ''}"
        return f"{self.file}:{within}{self.line}"


class Finding(Frozen):
    """One thing that is wrong, where it is, and how to mend it.

    `code` is stable kebab-case; `field` is the contract's name of the cell (`volume_ml`) or None;
    `raw` is the text as written; `message` says what is wrong and `fix` how to mend it; both are
    whole clauses with a full stop. `related` names other places that the finding is about.
    """

    severity: Severity
    code: str
    place: Place
    message: str
    fix: str
    field: str | None = None
    raw: str | None = None
    related: tuple[Place, ...] = ()

    def as_json(self) -> dict[str, str | int | None]:
        """The finding as `measures.json` and `check --json` carry it."""
        return {
            "severity": str(self.severity),
            "code": self.code,
            "file": self.place.file,
            "line": self.place.line,
            "column": self.place.column,
            "at": self.place.at,
            "field": self.field,
            "raw": self.raw,
            "message": self.message,
            "fix": self.fix,
        }


LONGEST_RAW, LONGEST_TEXT = 60, 400


def text(finding: Finding) -> str:
    """One line: `night.csv:14 volume_ml "25O0": not a number in mL. Type digits only.`

    The only place that turns a finding into text. Raw text is cut to `LONGEST_RAW` characters and
    its control characters are escaped, so that a finding is always one line of plain text.
    """
    parts = [_plain(str(finding.place), LONGEST_TEXT), *_cell(finding)]
    related = _plain(", ".join(str(place) for place in finding.related), LONGEST_TEXT)
    also = f" {FINDINGS.say('any.also', places=related)}" if related else ""
    message, fix = (_plain(words, LONGEST_TEXT) for words in (finding.message, finding.fix))
    return f"{' '.join(parts)}: {message} {fix}{also}"


def known_by(finding: Finding) -> str:
    """`not-a-number volume_ml "25O0"`: the code and the cell, whatever the words of the finding."""
    return " ".join([finding.code, *_cell(finding)])


def worst(findings: Iterable[Finding]) -> Severity | None:
    """The gravest severity among the findings, or None when there are none."""
    seen = {finding.severity for finding in findings}
    return next((severity for severity in Severity if severity in seen), None)


def _cell(finding: Finding) -> list[str]:
    raw = [] if finding.raw is None else [f'"{_plain(finding.raw)}"']
    return [*([finding.field] if finding.field else []), *raw]


def _plain(raw: str, longest: int = LONGEST_RAW) -> str:
    shown = raw if len(raw) <= longest else raw[: longest - 1] + "…"
    return "".join(
        character if character.isprintable() else character.encode("unicode_escape").decode()
        for character in shown
    )
