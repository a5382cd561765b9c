"""Text that means something to a machine, and logs that hold it in every text field.

Each text has a word of its own, so that it can be found again. `PRINTED` has to appear on the page
letter by letter; `REFUSED` has to be named by a finding of the code beside it.
"""

import csv
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from tests.support.guarded import CANARY

PRINTED: Mapping[str, str] = {
    "image": "<img src='file:///etc/passwd' width=9/>",
    "remote image": '<img src="http://127.0.0.1:9/x.png"/>',
    "link": "<a href='http://127.0.0.1:9/'>here</a>",
    "colour": "<font color='[[[getattr(pow,Word)(1)]]]'>x</font>",
    "colour expression": "<para><font color=__import__('os').getpid()>x",
    "unclosed tag": "</para><b><i>bold",
    "entity": "&amp;&lt;&#x41;&nbsp;<!DOCTYPE x>",
    "jinja": "{{ 7 * 7 }}{{ cycler.__init__.__globals__ }}",
    "jinja block": "{% for x in range(9) %}x{% endfor %}{# x #}",
    "jinja include": "{% include '/etc/passwd' %}",
    "format": "%s%n %(name)s {0.__class__} ${HOME} $(id) `id`",
    "yaml tag": "!!python/object/apply:os.getpid []",
    "yaml alias": "*name",
    "yaml anchor": "&name x",
    "yaml merge": "<<: *name",
    "yaml document": "--- x ...",
    "formula": "=HYPERLINK(A1)",
    "command": "=cmd|' /C calc'!A0",
    "plus": "+1+1",
    "minus": "-1+1",
    "at": "@SUM(1)",
    "marked formula": "'=1+1",
    "path": "../../../etc/passwd",
    "folder": "..",
    "this folder": ".",
    "absolute": "/etc/passwd",
    "windows path": "C:\\con\\nul",
    "reserved": "CON",
    "reserved too": "nul.txt",
    "pdf string": "(x) Tj ET \\) /JS (app.alert(1)) \\101\\r",
    "pdf object": "endstream endobj 1 0 obj <</Type/Catalog>>",
    "quotes": "\"'\"'; DROP TABLE x; --",
    "json": '"}],"x":[{',
    "comment": "# x",
    "separators": "a;b,c|d",
}
REFUSED: Mapping[str, tuple[str, str]] = {
    "bell": ("\x07x", "bad-character"),
    "escape sequence": ("\x1b[31mx\x1b]0;x\x07", "bad-character"),
    "turned": ("\u202edwssap\u202c", "bad-character"),
    "isolated": ("\u2066x\u2069", "bad-character"),
    "unassigned": ("\U000e0080x", "bad-character"),
    "private": ("\ue000x", "bad-character"),
    "delete": ("\x7fx", "bad-character"),
    "next line": ("\x9bx", "bad-character"),
    "megabyte": ("x" * 2**20, "too-long"),
}
# In a CSV they make the whole file no text file, or the cell no cell.
NOT_IN_CSV = frozenset({"bell", "escape sequence", "megabyte"})

# The text fields of both forms of a log that take any text, and of YAML alone.
OF_UNIT, OF_SHIFT = ("unit", "phone"), ("shift_name", "outgoing", "incoming")
OF_PATIENT = ("patient_id", "name", "bed", "reason", "order_by")
OF_ENTRY = ("note",)
ONLY_YAML = frozenset({"phone", "shift_name"})
TEXT_FIELDS = (*OF_UNIT, *OF_SHIFT, *OF_PATIENT, *OF_ENTRY)

SHIFT = {"shift_start": "2026-03-07 07:00", "shift_end": "2026-03-07 19:00"}


def cell(text: str, field: str) -> str:
    """A hostile text as a field has it: found again by its own word at the end."""
    return f"{text} {field[:4]}{CANARY}"


def yaml_log(text: str, **others: str) -> str:
    """A log of one patient, with this text in every text field and in a bad cell.

    `others` are texts of single fields.
    """
    said = {name: quoted(cell(others.get(name, text), name)) for name in TEXT_FIELDS}
    return f"""\
unit: {{name: {said["unit"]}, time_zone: UTC, quiet_hours: none, phone: {said["phone"]}}}
shift:
  name: {said["shift_name"]}
  start: 2026-03-07 07:00
  end: 2026-03-07 19:00
  outgoing: {said["outgoing"]}
  incoming: {said["incoming"]}
patients:
- id: {said["patient_id"]}
  name: {said["name"]}
  born: 1958-04-02
  bed: {said["bed"]}
  reason: {said["reason"]}
  order: {{start: 2026-03-06 10:00, breaths: 10, goal_ml: 1500, by: {said["order_by"]}}}
  home_on: 2026-03-08
entries:
- {{patient: {said["patient_id"]}, at: 09:00, volume_ml: 900, spo2: 97, note: {said["note"]}}}
- {{patient: {said["patient_id"]}, at: 10:00, what: {quoted(text)}}}
"""


def csv_log(text: str, **others: str) -> str:
    """The same log as a table, as far as a table can say it."""
    known = {**SHIFT, "time_zone": "UTC", "quiet_hours": "none", "born": "1958-04-02"}
    known |= {"order_start": "2026-03-06 10:00", "goal_ml": "1500", "home_on": "2026-03-08"}
    in_csv = (name for name in TEXT_FIELDS if name not in ONLY_YAML)
    known |= {name: cell(others.get(name, text), name) for name in in_csv}
    seen = {**known, "at": "09:00", "volume_ml": "900", "spo2": "97"}
    bad = {"patient_id": known["patient_id"], "at": "10:00", "what": text}
    return table([seen, bad])


def table(rows: Sequence[Mapping[str, str]]) -> str:
    """Rows as a spreadsheet would write them."""
    columns = list(dict.fromkeys(name for row in rows for name in row))
    stream = io.StringIO()
    writer = csv.DictWriter(stream, columns, quoting=csv.QUOTE_ALL)
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()


@cache
def quoted(text: str) -> str:
    """A text as YAML writes it in quotation marks; what a file may not hold is escaped."""
    return "".join(_escaped(character) for character in json.dumps(text, ensure_ascii=False))


def _escaped(character: str) -> str:
    number = ord(character)
    return character if character.isprintable() else f"\\U{number:08x}"


@dataclass(frozen=True)
class Structure:
    """A file that is made to do harm, and the code of the finding that it ends with."""

    content: bytes
    code: str


def _yaml(patients: str, code: str) -> Structure:
    log = yaml_log("x").partition("patients:")[0] + f"patients: {patients}\n"
    return Structure(log.encode("utf-8", "surrogatepass"), code)


def _csv(name: str, note: str, code: str) -> Structure:
    seen = {**SHIFT, "unit": "x", "time_zone": "UTC", "patient_id": "1", "name": name}
    log = table([{**seen, "born": "1958-04-02", "at": "09:00", "breaths": "8", "note": note}])
    return Structure(log.encode("utf-8", "surrogatepass"), code)


LAUGHS = "\n".join(
    [f"  - &a{level} [{', '.join([f'*a{level - 1}'] * 9)}]" for level in range(1, 9)]
)
# The last word of a name is that of the file.
STRUCTURES: Mapping[str, Structure] = {
    "billion laughs in laughs.yaml": _yaml(f"\n  - &a0 lol\n{LAUGHS}", "yaml-alias"),
    "an alias of itself in alias.yaml": _yaml("&a [*a]", "yaml-alias"),
    "a merge key in merge.yaml": _yaml("[{<<: {name: x}}]", "yaml-merge-key"),
    "a tag in tag.yaml": _yaml("[!!python/object/apply:os.system [id]]", "yaml-tag"),
    "a tag's own handle in handle.yaml": Structure(
        b"%TAG ! tag:yaml.org,2002:python/\n---\nunit: !name:os.system x\n", "yaml-tag"
    ),
    "lists in lists in lists.yaml": _yaml("[" * 500, "yaml-nesting"),
    "groups in groups in groups.yaml": _yaml("{a: " * 100_000, "yaml-nesting"),
    "lists in blocks in blocks.yaml": _yaml("\n  " + "- " * 50_000 + "x", "yaml-nesting"),
    "a list as a name in key.yaml": _yaml("[{? [a] : b}]", "yaml-key"),
    "five thousand names in names.yaml": _yaml(
        "[{" + ", ".join(f"k{n}: x" for n in range(5_000)) + "}]", "unknown-field"
    ),
    "one name a thousand times in twice.yaml": _yaml(
        "[{" + "id: x, " * 1_000 + "}]", "duplicate-key"
    ),
    "two documents in two.yaml": _yaml("[]\n---\nunit: {name: y}", "yaml-documents"),
    "a lone surrogate as an escape in escape.yaml": _yaml('[{name: "\\ud800"}]', "yaml-syntax"),
    "a lone surrogate as bytes in bytes.yaml": _yaml("[{name: \ud800}]", "encoding-assumed"),
    "NUL as an escape in one-nul.yaml": _yaml('[{id: "1\\0", name: x}]', "bad-character"),
    "NUL as a byte in null.yaml": _yaml("[{id: '1\0'}]", "nul-bytes"),
    "a cell of a megabyte in megabyte.csv": _csv("x", "x" * 2**20, "long-cell"),
    "symptoms of a megabyte in symptoms.yaml": Structure(
        yaml_log("x").replace("spo2: 97", f"symptoms: {'a ' * 2**19}").encode(), "too-long"
    ),
    "a number of a megabyte in number.yaml": Structure(
        yaml_log("x").replace("spo2: 97", f"spo2: {'9' * 2**20}").encode(), "too-long"
    ),
    "a column name of a megabyte in column.csv": Structure(
        b"x" * 100_000 + b",patient_id,at\na,1,09:00\n", "unknown-field"
    ),
    "a lone surrogate in surrogate.csv": _csv("\ud800", "x", "encoding-assumed"),
    "a turned name in turned.csv": _csv("\u202exelA", "x", "bad-character"),
    "a bell in bell.csv": _csv("\x07", "x", "binary-file"),
    "NUL in one-nul.csv": _csv("x\0", "x", "nul-bytes"),
    "quotation marks in quotes.csv": Structure(
        b"patient_id,at,note\n" + b'1,09:00,"x\n' * 5_000, "unclosed-quote"
    ),
    "five thousand columns in columns.csv": Structure(
        b"patient_id,at" + b",x" * 5_000 + b"\n1,09:00" + b",y" * 5_000 + b"\n",
        "unknown-field",
    ),
    "a row of a million cells in row.csv": Structure(
        b"patient_id,at,note\n1,09:00" + b",y" * 200_000 + b"\n", "long-row"
    ),
}
