"""Who is not let in, and what every answer says to the browser."""

import re
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest

from handoff.desk.app import SHOWS_FAULTS
from handoff.desk.safety import COOKIE, FORM_KEY, Gate
from tests.support.desks import NIGHT, Opened, night, said

PAGES = ["/", "/entry", "/put-right", "/logs", "/logs/new", "/unit", "/sheets", "/patients/new"]
PAGES += ["/history", "/change-of-shift", "/print", "/weeks"]
PRIVATE = ("10442", "00718", "Larkspur", "Odile", "Quist", "Bram", "12A", "12B")


@pytest.fixture
def opened(tmp_path: Path) -> Opened:
    return night(tmp_path)


def entry(opened: Opened, **more: str) -> dict[str, str]:
    """A form that adds an entry to the first patient."""
    page = opened.get("/entry").get_data(as_text=True)
    key = re.findall(r'<option value="(\w{24})"', page)[0]
    form = re.findall(r'name="form" value="([^"]+)"', page)[0]
    return {"bed": key, "form": form, "at": "21:00", "breaths": "5", **more}


def log(opened: Opened) -> str:
    return Path(opened.desk.paths[0]).read_text()


HOSTS = ["localhost:5999", "x.localhost:5999", "127.0.0.1", "127.0.0.1:6000", "evil.example"]


@pytest.mark.parametrize("host", HOSTS)
def test_another_host_is_refused(opened: Opened, host: str) -> None:
    for path in ["/", f"/open?key={opened.gate.opening_key}", "/static/desk.css"]:
        answer = opened.get(path, headers={"Host": host})
        assert answer.status_code == 421
        assert not any(each in said(answer) for each in PRIVATE)


def test_the_plain_address_of_this_machine_serves_only_the_way_to_the_desk(opened: Opened) -> None:
    way, gate = f"http://{opened.gate.way_host}", opened.gate
    opened.client.set_cookie(COOKIE, gate.session, domain="127.0.0.1")
    for path in (*PAGES, "/alive", "/static/desk.css", "/fonts/regular.ttf", "/nothing"):
        assert opened.client.get(path, base_url=way).status_code == 421
    data = {**entry(opened), FORM_KEY: gate.form_key}
    sent = opened.client.post("/entry", base_url=way, data=data, headers={"Origin": way})
    assert sent.status_code == 421
    answer = opened.client.get(gate.address)
    assert (answer.status_code, answer.headers.get("Set-Cookie")) == (303, None)
    assert answer.location.startswith(f"{gate.origin}/enter?key=")
    assert opened.get(f"/open?key={gate.opening_key}").status_code == 421
    assert log(opened) == NIGHT


def test_nobody_can_guess_the_host_or_read_it_from_how_a_browser_was_started() -> None:
    one, other = Gate(5999), Gate(5999)
    assert re.fullmatch(r"[0-9a-f]{32}\.localhost", one.name)  # 128 bits
    assert one.name != other.name
    assert one.name not in one.address + one.address_once()


@pytest.mark.parametrize("path", [*PAGES, "/sheets/x.pdf", "/nothing"])
def test_nobody_is_let_in_without_the_cookie(opened: Opened, path: str) -> None:
    opened.leave("guessed")
    answer = opened.get(path)
    assert answer.status_code == 401
    assert "Open the address that was printed" in said(answer)


@pytest.mark.parametrize("key", ["", "x", "é"])
def test_the_opening_address_needs_its_key(tmp_path: Path, key: str) -> None:
    opened = night(tmp_path)
    opened.leave()
    for start in (f"http://{opened.gate.way_host}/open", f"{opened.gate.origin}/enter"):
        answer = opened.client.get(start, query_string={"key": key})
        assert answer.status_code == 401
        assert "Set-Cookie" not in answer.headers


def test_the_address_that_the_browser_is_started_with_opens_once(opened: Opened) -> None:
    address = opened.gate.address_once()
    opened.leave()
    way = opened.client.get(address).location
    assert opened.client.get(way).status_code == 200
    assert opened.get("/").status_code == 200
    for used in (address, way):
        assert opened.client.get(used).status_code == 401


def test_the_cookie_is_strict_and_no_script_sees_it(opened: Opened) -> None:
    cookie = opened.enter().headers["Set-Cookie"]
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))
    assert "Domain" not in cookie  # of this host alone
    assert opened.gate.opening_key not in cookie
    assert len(opened.gate.session) >= 43  # 256 bits


FOREIGN: list[dict[str, Any]] = [
    {"headers": {"Origin": "http://evil.example"}},
    {"headers": {"Origin": "null"}},
    {"headers": {"Origin": "http://127.0.0.1:6000"}},
    {"headers": {"Origin": "http://127.0.0.1:5999"}},
    {"headers": {"Sec-Fetch-Site": "cross-site"}},
    {"headers": {"Sec-Fetch-Site": "same-site"}},  # as from another port of the desk's host
]


@pytest.mark.parametrize("foreign", FOREIGN)
def test_a_form_of_another_origin_writes_nothing(opened: Opened, foreign: dict[str, Any]) -> None:
    answer = opened.post("/entry", entry(opened), **foreign)
    assert answer.status_code == 403
    assert log(opened) == NIGHT


def test_a_form_without_an_origin_or_its_key_writes_nothing(opened: Opened) -> None:
    data = entry(opened)
    own = {"Origin": opened.gate.origin}
    client, base = opened.client, opened.gate.origin
    without_origin = {**data, FORM_KEY: opened.gate.form_key}
    for form, headers in [
        (data, own),
        ({**data, FORM_KEY: "guessed"}, own),
        (without_origin, {}),
    ]:
        answer = client.post("/entry", base_url=base, data=form, headers=headers)
        assert answer.status_code == 403
        assert "Nothing was written" in said(answer)
    assert log(opened) == NIGHT
    assert opened.post("/entry", data).status_code == 303


@pytest.mark.parametrize("path", PAGES)
def test_pages_are_kept_nowhere_and_take_nothing_from_elsewhere(opened: Opened, path: str) -> None:
    answer = opened.get(path)
    assert answer.status_code == 200
    headers, page = answer.headers, answer.get_data(as_text=True)
    assert headers["Cache-Control"] == "no-store"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy
    assert not re.search(r"<script(?![^>]*src=)|<style|\sstyle=|\son\w+=|javascript:", page)
    assert not re.search(r'(src|href|action)="(?!/|#)', page)


def test_no_address_says_anything_of_a_patient(opened: Opened) -> None:
    seen = set()
    ahead = list(PAGES)
    while ahead:
        path = ahead.pop()
        if path in seen:
            continue
        seen.add(path)
        answer = opened.get(path)
        answer.close()
        assert answer.status_code in {200, 302, 303}, path
        if answer.mimetype == "text/html":
            page = answer.get_data(as_text=True)
            links = re.findall(r'(?:href|action)="(/[^"#]*)', page)
            forms = re.findall(r'<form[^>]*action="(/[^"]*)"', page)
            ahead += [each for each in links if each not in forms and "favicon" not in each]
    assert len(seen) > 15
    assert not [path for path in seen for each in PRIVATE if each in path]
    told = opened.post("/entry", entry(opened)).headers["Location"]
    assert not [each for each in PRIVATE if each in told]


@pytest.mark.parametrize("debug", [False, True])
def test_a_fault_prints_its_kind_and_in_full_only_with_debug(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    debug: bool,
) -> None:
    def fail(_desk: object) -> None:
        raise KeyError("Larkspur, Odile")

    opened = night(tmp_path)
    opened.client.application.config[SHOWS_FAULTS] = debug
    monkeypatch.setattr("handoff.desk.ward.Desk.ward", fail)
    answer = opened.get("/")
    assert answer.status_code == 500
    assert "What is in the logs is safe" in said(answer)
    out = capsys.readouterr()
    assert out.out == ""
    if debug:
        assert "Traceback" in out.err
        assert "raise KeyError" in out.err
    else:
        assert out.err == "handoff: a fault of the program (KeyError)\n"


def test_too_much_at_once_is_refused(opened: Opened, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(opened.client.application.config, "MAX_CONTENT_LENGTH", 1000)
    data = {"files": (BytesIO(b"x" * 2000), "night.csv")}
    answer = opened.post("/logs/files", data)
    assert answer.status_code == 413
    assert "Check that the files are logs" in said(answer)


@pytest.mark.parametrize(
    ("path", "status"),
    [("/nothing", 404), ("/patients/0123", 404), ("/sheets/x.pdf", 404), ("/fonts/x.ttf", 404)],
)
def test_what_is_not_there_is_a_sentence(opened: Opened, path: str, status: int) -> None:
    answer = opened.get(path)
    assert answer.status_code == status
    assert "Go back to the ward" in said(answer)
    assert opened.post("/").status_code == 405


def test_style_and_fonts_are_served_without_the_cookie(opened: Opened) -> None:
    opened.leave()
    for path in ["/static/desk.css", "/static/desk.js", "/fonts/regular.ttf"]:
        answer = opened.get(path)
        assert answer.status_code == 200
        answer.close()


def test_what_a_log_holds_is_text_on_every_page(tmp_path: Path) -> None:
    hostile = '<script>alert(1)</script>\\" onfocus=x autofocus='
    text = NIGHT.replace("name: Larkspur, Odile", f'name: "{hostile}"')
    text = text.replace("volume_ml: 1100}", f'volume_ml: 1100, spo2: 84, note: "{hostile}"}}')
    text = text.replace("25O0", '"{{ 7 * 7 }}<img src=x>"')
    opened = night(tmp_path, text)
    patient = set(re.findall(r'href="(/patients/\w{24})"', opened.get("/").get_data(as_text=True)))
    for path in (*PAGES, *patient, *(f"{each}/facts" for each in patient)):
        page = opened.get(path).get_data(as_text=True)
        assert "<script>alert" not in page
        assert "<img" not in page
        assert not re.search(r'"\s+onfocus=', page)
    assert "<script>alert(1)</script>" in said(opened.get("/"))
    assert "{{ 7 * 7 }}" in said(opened.get("/put-right"))
