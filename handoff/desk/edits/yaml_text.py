"""The text of a YAML log with one entry or cell changed; all other characters stay as they were.

Input: the text, and cells as they are typed. Output: the new text. Raises `EditError` where the
log's layout has no place for it. `change` proves that the result is right.
"""

import json
import re
from collections.abc import Iterator, Mapping

from handoff.desk.edits.csv_text import line_end_of
from handoff.desk.edits.failures import EditError
from handoff.log.fields import FIELDS, Field, Kind, Section, fields_of
from handoff.log.yaml_nodes import Layout, NodePath, Span, spans

# Text with the same meaning with and without quotation marks, also between brackets.
_PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ./+;-]*(?::[0-9][A-Za-z0-9 ./+-]*)*", re.ASCII)
_WORDS = re.compile(r"[a-z_]+(?:;[a-z_]+)*", re.ASCII)
_NO_TEXT = frozenset({"null", "Null", "NULL"})


def appended(text: str, cells: Mapping[str, str]) -> str:
    """The text with one more entry at its end."""
    found = spans(text)
    sections = [path[0] for path in found if len(path) == 1]
    entries = found.get((str(Section.ENTRY),))
    if entries is None or sections[-1] != Section.ENTRY:
        raise EditError("entries-not-last")
    if entries.layout is Layout.FLOW:
        raise EditError("entries-in-brackets")
    indent = " " * (entries.column if entries.layout is Layout.BLOCK else 0)
    line_end = line_end_of(text)
    between = "" if text.endswith(("\n", "\r")) else line_end
    return f"{text}{between}{indent}- {_entry(cells)}{line_end}"


def with_patient(text: str, cells: Mapping[str, str]) -> str:
    """The text with one more patient at the end of the list."""
    patients = spans(text).get((str(Section.PATIENT),))
    if patients is None or patients.layout is Layout.FLOW:
        raise EditError("no-patients-list")
    line_end = line_end_of(text)
    if patients.layout is Layout.BLOCK:
        at, indent = _end_of(text, patients), " " * patients.column
    else:
        at, indent = patients.start + len(text[patients.start :].split(line_end, maxsplit=1)[0]), ""
    lines = "".join(f"{line_end}{indent}{line}" for line in _patient_lines(cells))
    return f"{text[:at]}{lines}{text[at:] or line_end}"


def patient_paths(text: str) -> list[NodePath]:
    """The paths of the records of patients, in the order in which `read` makes them: an order of a
    list is a record of its own, after that of its patient.
    """
    found = spans(text)
    paths: list[NodePath] = []
    for path, span in found.items():
        is_list = (*path, 0) in found
        if path[:1] != (str(Section.PATIENT),) or span.layout is Layout.SCALAR or is_list:
            continue
        patient, below = path[1:2], path[2:]
        name = str(below[0]).casefold() if below else ""
        is_listed = name in {"order", "orders"} and isinstance(path[-1], int)
        is_alone = name == "orders" and not below[1:]
        if (patient and not below) or is_listed or is_alone:
            paths.append(path)
    return paths


def replaced(text: str, record: NodePath, field: Field, cell: str) -> str:
    """The text with another cell in a record, which gets the field where it has none."""
    found = spans(text)
    is_order = bool(record[2:])  # below its patient: an order of a list, where no group is
    within = field.path.removeprefix("order.") if is_order else field.path
    path = (*record, *within.split("."))
    if path in found:
        return _put(text, found[path], _scalar(field, cell))
    *groups, key = within.split(".")
    inner, holder = f"{key}: {_scalar(field, cell)}", record
    for group in groups:
        if (*holder, group) in found:
            holder = (*holder, group)
        else:
            inner = f"{group}: {{{inner}}}"
            break
    if holder not in found:
        raise EditError("no-place", field=field.column)
    return _inserted(text, found[holder], inner)


def without(text: str, record: NodePath) -> str:
    """The text without one item of a list."""
    span = spans(text)[record]
    dash = text.rfind("-", 0, span.start)
    start = text.rfind("\n", 0, dash) + 1
    if text[start:dash].strip() or (dash + 1 != span.start and text[dash + 1 : span.start].strip()):
        raise EditError("shared-line")
    end = _end_of(text, span)
    line_end = text.find("\n", end)
    return text[:start] + (text[line_end + 1 :] if line_end >= 0 else "")


def _put(text: str, span: Span, scalar: str) -> str:
    """The text with a scalar instead of a node; the white space after it stays."""
    end = span.start + len(text[span.start : span.end].rstrip())
    # A list by indentation is on lines of its own: its replacement goes after the colon.
    before = text[: span.start].rstrip() if span.layout is Layout.BLOCK else text[: span.start]
    gap = " " if scalar and before.endswith(":") else ""
    return f"{before}{gap}{scalar}{text[end:]}"


def _inserted(text: str, holder: Span, inner: str) -> str:
    """The text with `name: value` as the first thing in a group of fields."""
    start = holder.start
    if holder.layout is Layout.BLOCK:
        return f"{text[:start]}{inner}{line_end_of(text)}{' ' * holder.column}{text[start:]}"
    if holder.layout is Layout.SCALAR:
        return _put(text, holder, f"{{{inner}}}")
    is_empty = not text[start + 1 : holder.end - 1].strip()
    return f"{text[: start + 1]}{inner}{'' if is_empty else ', '}{text[start + 1 :]}"


def _end_of(text: str, span: Span) -> int:
    """The end of a span's content, without the blank lines and comments below it."""
    written = re.sub(r"(\s*[\r\n][ \t]*(#[^\r\n]*)?)*\Z", "", text[span.start : span.end])
    return span.start + len(written)


def _patient_lines(cells: Mapping[str, str]) -> Iterator[str]:
    """A line for each fact and each group of facts."""
    groups: dict[str, list[str]] = {}
    for field in fields_of(Section.PATIENT):
        if cells.get(field.name):
            name, _, key = field.path.partition(".")
            written = _scalar(field, cells[field.name])
            groups.setdefault(name, []).append(f"{key}: {written}" if key else written)
    of_group = {field.path.partition(".")[0] for field in FIELDS if "." in field.path}
    for number, (name, parts) in enumerate(groups.items()):
        value = f"{{{', '.join(parts)}}}" if name in of_group else parts[0]
        yield f"{'  ' if number else '- '}{name}: {value}"


def _entry(cells: Mapping[str, str]) -> str:
    written = (
        f"{field.path}: {_scalar(field, cells[field.name])}"
        for field in fields_of(Section.ENTRY)
        if cells.get(field.name)
    )
    return "{" + ", ".join(written) + "}"


def _scalar(field: Field, cell: str) -> str:
    """A cell as YAML: words of choice as a list, text in quotation marks."""
    if field.kind is Kind.CHOICES and _WORDS.fullmatch(cell):
        return f"[{cell.replace(';', ', ')}]"
    is_plain = _PLAIN.fullmatch(cell) and cell == cell.strip() and cell not in _NO_TEXT
    if not cell or (is_plain and field.kind is not Kind.TEXT):
        return cell
    return json.dumps(cell, ensure_ascii=False)
