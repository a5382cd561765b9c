"""Desks for the tests: small logs in a folder, and a client that has been let in."""

import re
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from types import CodeType
from typing import Any, ClassVar

from flask.testing import FlaskClient
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from werkzeug.test import TestResponse

from handoff.desk.app import make_app
from handoff.desk.safety import COOKIE, FORM_KEY, Gate
from handoff.desk.ward import Desk, Setting
from tests.support.builders import default_limits

PORT = 5999

NIGHT = """\
unit: {name: Harbour 3 East, time_zone: America/Halifax}
shift: {name: night, start: 2026-03-06 19:00, end: 2026-03-07 07:00}
patients:
- id: "10442"
  name: Larkspur, Odile
  born: 1958-04-02
  bed: 12A
  order: {start: 2026-03-06 10:00, breaths: 10, goal_ml: 1500}
- id: "00718"   # leading zeros are kept
  name: Quist, Bram
  born: 1949-11-20
  bed: 12B
  order: {breaths: 10, start: 2026-03-06 10:00}
entries:
- {patient: "10442", at: 19:40, breaths: 8, volume_ml: 1100}   # the first
- patient: "00718"
  at: 2026-03-06 20:10
  breaths: 10
  volume_ml: 25O0
  note: |
    coughed;
    rested
"""

# Its last row is a danger that nobody was told of.
STORY = """\
unit: {name: Harbour 3 East, time_zone: America/Halifax}
shift: {name: night, start: 2026-03-06 20:00, end: 2026-03-07 04:00}
patients:
- id: "10442"
  name: Larkspur, Odile
  born: 1958-04-02
  bed: 12A
  precautions: flat, spine not cleared
  order: {start: 2026-03-06 10:00, goal_ml: 1500}
- id: "00718"
  name: Quist, Bram
  born: 1949-11-20
  bed: 12B
  order: {breaths: 10, start: 2026-03-06 10:00}
entries:
- {patient: "10442", at: 20:40, breaths: 8, volume_ml: 1100}
- {patient: "10442", at: 03:50, spo2: 84, on_oxygen: no, symptoms: [chest_pain, faint]}
- {patient: "00718", at: 20:40, breaths: 8, volume_ml: 1100}
"""

EVENING_CSV = (
    "unit;time_zone;shift_start;shift_end;patient_id;name;born;bed;order_start;at;breaths;"
    "Volume (mL);symptoms;note\r\n"
    "Harbour 3 East;America/Halifax;2026-03-06 19:00;2026-03-07 07:00;10442;Larkspur, Odile;"
    '1958-04-02;12A;2026-03-06 10:00;19:40;8;1100;dizzy;"said ""fine""; sat up"\r\n'
    ";;;;00718;Quist, Bram;1949-11-20;12B;2026-03-06 10:00;20:10;10;25O0;;\r\n"
)


class Compiled(BytecodeCache):
    """The templates of the desk, compiled once for all desks of a process: that takes longer than
    most of what a test asks of one.
    """

    kept: ClassVar[dict[tuple[str, str], CodeType]] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        bucket.code = self.kept.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        assert bucket.code
        self.kept[bucket.key, bucket.checksum] = bucket.code


@dataclass
class Opened:
    """A desk, its gate, and a client whose browser was let in."""

    desk: Desk
    gate: Gate
    client: FlaskClient

    def get(self, path: str, **more: Any) -> TestResponse:
        return self.client.get(path, base_url=self.gate.origin, **more)

    def enter(self, address: str = "") -> TestResponse:
        """Follow the printed address, or another one, as a browser does."""
        way = self.client.get(address or self.gate.address)
        return self.client.get(way.location) if way.location else way

    def leave(self, session: str = "") -> None:
        """Forget the cookie, or have another instead."""
        self.client.delete_cookie(COOKIE, domain=self.gate.name)
        if session:
            self.client.set_cookie(COOKIE, session, domain=self.gate.name)

    def post(self, path: str, data: dict[str, Any] | None = None, **more: Any) -> TestResponse:
        """A form as a page of the desk sends it."""
        return self.client.post(
            path,
            base_url=self.gate.origin,
            headers={"Origin": self.gate.origin, **more.pop("headers", {})},
            data={FORM_KEY: self.gate.form_key, **(data or {})},
            **more,
        )


def setting(folder: Path, **more: Any) -> Setting:
    return Setting(folder, default_limits(), **more)


def open_desk(folder: Path, *logs: str, **more: Any) -> Opened:
    """A desk with these logs of the folder open."""
    desk = Desk(setting(folder, **more), [str(folder / each) for each in logs])
    gate = Gate(PORT)
    app = make_app(desk, gate)
    app.jinja_env.bytecode_cache = Compiled()
    opened = Opened(desk, gate, app.test_client())
    assert opened.enter().status_code == 200
    return opened


def night(folder: Path, text: str = NIGHT, name: str = "night.yaml") -> Opened:
    """A desk with one small log."""
    (folder / name).write_bytes(text.encode())
    return open_desk(folder, name)


def fields_of_form(page: str, action: str, number: int = 0) -> dict[str, str]:
    """The fields of a page's form as they are filled in, the last of each name."""
    forms = re.findall(rf'<form[^>]*action="{action}".*?</form>', page, flags=re.DOTALL)
    form = forms[number]
    inputs = dict(re.findall(r'<input[^>]*name="([^"]*)" value="([^"]*)"', form))
    areas = r'<textarea[^>]*name="([^"]*)"[^>]*>\n(.*?)</textarea>'
    texts = dict(re.findall(areas, form, flags=re.DOTALL))
    return {name: unescape(value) for name, value in {**inputs, **texts}.items()}


def said(response: TestResponse) -> str:
    """The words of a page, on one line."""
    text = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", response.get_data(as_text=True))
    return " ".join(unescape(text).split())
