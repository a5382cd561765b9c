"""Replaces rows that were set aside by mended ones: raw logs -> raw logs.

Input: raw logs, the checked logs with their rows set aside, and raw logs of mended files of rows
set aside. Output: the raw logs with mended rows in place, and the rest of the mended files. A row
is identified by its place and by the reason why it was set aside: the code and the wrong text,
never the words of the finding. So a row that is used, or that was mended in its log, is never
replaced. A spreadsheet may change signs and letters of other alphabets, and a log may be named from
another folder: only the file's own name, and plain letters and digits, are compared. Interprets no
cell.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence

from msgspec.structs import replace

from handoff.log.entries import filled
from handoff.log.fields import (
    SET_ASIDE_BECAUSE,
    SET_ASIDE_CODE,
    SET_ASIDE_FROM,
    Section,
    fields_of,
)
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place, known_by, text
from handoff.model.frozen import Frozen
from handoff.model.ward import Log, SetAside
from handoff.read import RawLog, Record, with_records

# In a Bundle, as the text of a place has it: a resource by its type and id, or by its entry.
_RESOURCE = re.compile(r" ([A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}|Bundle\.entry\[\d+\])$")
_OF_ENTRY = frozenset(each.name for each in fields_of(Section.ENTRY))
_OF_PATIENT = frozenset(each.name for each in fields_of(Section.PATIENT))

_Key = tuple[str, ...]  # the place of a row and why it was set aside, in plain letters


class _Mended(Frozen):
    """A mended row, the place of the row that it replaces, and that row's log."""

    record: Record
    row: SetAside
    log: Log


def holds_mended_rows(raw: RawLog) -> bool:
    """Whether a log is a file of rows set aside."""
    return raw.usable and SET_ASIDE_FROM in (raw.columns or {})


def mend(
    raws: Sequence[RawLog], mended: Sequence[RawLog], logs: Iterable[Log]
) -> tuple[list[RawLog], list[RawLog]]:
    """The raw logs with the mended rows in place, and the mended raw logs without these rows.

    An unchanged row of a mended raw log replaces nothing: its row stays set aside.
    """
    offered: defaultdict[_Key, list[Record]] = defaultdict(list)
    for raw in mended:
        for record in raw.entries:
            offered[_keys_of(record)[0]].append(replace(record, file=raw.file))
    taken: defaultdict[Place, list[_Mended]] = defaultdict(list)
    rows = [(row, log) for log in logs for row in log.set_aside]
    names = Counter(_spot(f"{file}:")[0] for file in {row.place.file for row, _ in rows})
    for row, log in rows:
        where = str(row.place)
        for key in _keys(where, known_by(row.reason), text(row.reason)):
            of_row = sorted(offered[key], key=lambda record: _where(record) != where)
            if of_row and (_where(of_row[0]) == where or names[_spot(where)[0]] == 1):
                offered[key].remove(of_row[0])
                taken[row.place].append(_Mended(of_row[0], row, log))
                break
    used = [each.record for of_place in taken.values() for each in of_place]
    return [_put_in(raw, taken) for raw in raws], [_less(raw, used) for raw in mended]


def doubted(offered: Sequence[RawLog], left: Sequence[RawLog], logs: Iterable[Log]) -> list[RawLog]:
    """The rest of the mended raw logs, without rows that would be counted twice.

    Some name a row that is still set aside, but give another reason than its log: they may belong
    to another row. Others name a row that another mended row with other content already replaced.
    Both are set aside too.
    """
    aside = {_spot(str(row.place)): row.place for log in logs for row in log.set_aside}
    put = _put(offered, left)
    return [_less_doubted(raw, aside, put) for raw in left]


def _less_doubted(
    raw: RawLog, aside: Mapping[_Key, Place], put: Mapping[_Key, Sequence[tuple[Place, Record]]]
) -> RawLog:
    records, findings = [], []
    for record in raw.entries:
        place, where = raw.row_place(record), _where(record)
        others = next((put[key] for key in _keys_of(record) if key in put), ())
        found = None
        if _spot(where) in aside:
            found = finding("mended-row-in-doubt", place, at=aside[_spot(where)])
        elif others and all(_entry(other) != _entry(record) for _, other in others):
            found = finding("mended-row-twice", place, at=where)
            found = replace(found, related=tuple(at for at, _ in others))
        findings += [found] if found else []
        records.append(replace(record, broken=found) if found else record)
    left = with_records(raw, records)
    return replace(left, unit=raw.unit, shift=raw.shift, findings=(*left.findings, *findings))


def _put(
    offered: Iterable[RawLog], left: Iterable[RawLog]
) -> Mapping[_Key, Sequence[tuple[Place, Record]]]:
    """The mended rows that were used, by the row that they replace."""
    rest = {(raw.file, record.line) for raw in left for record in raw.entries}
    put: defaultdict[_Key, list[tuple[Place, Record]]] = defaultdict(list)
    for raw in offered:
        for record in raw.entries:
            if (raw.file, record.line) not in rest:
                for key in _keys_of(record):
                    put[key].append((raw.row_place(record), record))
    return put


def _entry(record: Record) -> dict[str, str]:
    """The cells of a mended row that belong to its entry."""
    return {name: cell for name, cell in filled(record.cells).items() if name in _OF_ENTRY}


def _where(record: Record) -> str:
    return record.cells.get(SET_ASIDE_FROM, "").strip()


def _keys_of(record: Record) -> list[_Key]:
    """The keys of the row that a mended row replaces: by its code and by the words of
    its reason.
    """
    code, because = (record.cells.get(name, "") for name in (SET_ASIDE_CODE, SET_ASIDE_BECAUSE))
    return _keys(_where(record), code, because)


def _keys(where: str, code: str, because: str) -> list[_Key]:
    """The keys of a row that was set aside. Older files have no codes; there the words up to the
    wrong text are the key.
    """
    reasons = [*([code] if code.strip() else []), because.strip().partition('": ')[0]]
    file, _ = _parts(where)
    return [(*_spot(where), _plain(reason.removeprefix(file))) for reason in reasons]


def _spot(where: str) -> _Key:
    """The plain name of the file without its folder, and the line; in a Bundle the resource, as it
    is written.
    """
    file, spot = _parts(where)
    return _plain(re.split(r"[\\/]", file)[-1]), spot if _RESOURCE.search(where) else _plain(spot)


def _parts(where: str) -> tuple[str, str]:
    """The file of a place, and the line or the resource in it."""
    resource = _RESOURCE.search(where)
    file, _, line = where.rpartition(":")
    return (where[: resource.start()], resource[1]) if resource else (file, line)


def _plain(text: str) -> str:
    """The letters and digits of a text that no spreadsheet changes."""
    return re.sub(r"[^a-z0-9]+", "", text.casefold())


def _put_in(raw: RawLog, taken: Mapping[Place, Sequence[_Mended]]) -> RawLog:
    """The raw log with mended rows instead of those that they replace."""
    records = list(raw.entries)
    put: list[Record] = []
    findings = list(raw.findings)
    for index, record in enumerate(records):
        place = raw.row_place(record)
        of_row = (each for each in taken.get(place, ()) if each.row.raw == filled(record.cells))
        mended = next(of_row, None)
        if mended and filled(_cells(mended)) != mended.row.raw:
            mended_away = _own_findings(record)
            findings = [each for each in findings if each not in mended_away]
            records[index] = replace(mended.record, cells=_cells(mended))
            put.append(records[index])
            note = finding("mended-row", Place(str(mended.record.file), mended.record.line))
            findings += [*_own_findings(records[index]), replace(note, related=(place,))]
    return replace(with_records(raw, records, put), findings=tuple(findings)) if put else raw


def _cells(mended: _Mended) -> dict[str, str]:
    """The cells of a mended row without those of unit, shift and patient that its log gives.

    Facts of a patient unknown to the log are kept.
    """
    cells = mended.record.cells
    known = {patient.id for patient in mended.log.patients}
    is_known = cells.get("patient_id", "").strip() in known
    names = _OF_ENTRY if is_known else _OF_ENTRY | _OF_PATIENT
    return {name: cell for name, cell in cells.items() if name in names or name in mended.row.raw}


def _less(raw: RawLog, used: Iterable[Record]) -> RawLog:
    """A mended raw log without the rows that were used, and without their findings."""
    of_raw = [record for record in used if record.file == raw.file]
    lines = {record.line for record in of_raw}
    gone = [found for record in of_raw for found in _own_findings(record)]
    left = with_records(raw, [each for each in raw.entries if each.line not in lines])
    return replace(left, findings=tuple(each for each in raw.findings if each not in gone))


def _own_findings(record: Record) -> list[Finding]:
    """The findings on a row itself, not on its cells, from reading it."""
    return [*([record.broken] if record.broken else []), *record.lost.values()]
