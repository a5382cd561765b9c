"""Text that means something to a machine, and logs that hold it in every text field.

Each text has a word of its own, so that it can be found again. `PRINTED` has to appear on the page
letter by letter; `REFUSED` has to be named by a finding of the code beside it.
"""

import csv
import io
import json
from collections.abc import Mapping, Sequence

from tests.guarded import CANARY

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


def yaml_log(text: str) -> str:
    """A log of one patient in danger, with this text in every text field and in a bad cell."""
    said = {name: quoted(cell(text, name)) for name in TEXT_FIELDS}
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
  order: {{start: 2026-03-06 10:00, goal_ml: 1500, by: {said["order_by"]}}}
  home_on: 2026-03-08
entries:
- {{patient: {said["patient_id"]}, at: 09:00, volume_ml: 900, spo2: 80, note: {said["note"]}}}
- {{patient: {said["patient_id"]}, at: 10:00, what: {quoted(text)}}}
"""


def csv_log(text: str) -> str:
    """The same log as a table, as far as a table can say it."""
    known = {**SHIFT, "time_zone": "UTC", "quiet_hours": "none", "born": "1958-04-02"}
    known |= {"order_start": "2026-03-06 10:00", "goal_ml": "1500", "home_on": "2026-03-08"}
    known |= {name: cell(text, name) for name in TEXT_FIELDS if name not in ONLY_YAML}
    seen = {**known, "at": "09:00", "volume_ml": "900", "spo2": "80"}
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


def quoted(text: str) -> str:
    """A text as YAML writes it in quotation marks; what a file may not hold is escaped."""
    return "".join(_escaped(character) for character in json.dumps(text, ensure_ascii=False))


def _escaped(character: str) -> str:
    number = ord(character)
    return character if character.isprintable() else f"\\U{number:08x}"
