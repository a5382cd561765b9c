"""The desk as it really serves: one line of output, many requests at once, killed and stopped."""

import re
import signal
import socket
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from handoff.cli.main import main
from handoff.desk.serve import ServeError, Serving, serve
from handoff.read import read
from tests.support.desks import NIGHT, setting
from tests.support.how_many import few
from tests.support.servers import Served, serving, started

PATIENTS = 30
REQUESTS, AT_ONCE = few(80), 8


def ward_of(patients: int) -> str:
    """A running shift of so many patients, each with an entry an hour."""
    start = datetime.now(UTC).replace(minute=0, second=0, microsecond=0) - timedelta(hours=6)
    hours = [f"{start + timedelta(hours=hour):%Y-%m-%d %H:%M}" for hour in range(13)]
    head = (
        "unit: {name: Oak, time_zone: Etc/GMT, quiet_hours: none}\n"
        f"shift: {{start: {hours[0]}, end: {hours[12]}}}\npatients:\n"
    )
    listed = "".join(
        f'- {{id: "{number:05}", name: "Person, N{number}", born: 1950-01-01, bed: "{number}", '
        f"order: {{start: {hours[0]}, goal_ml: 1500}}}}\n"
        for number in range(patients)
    )
    entries = "".join(
        f'- {{patient: "{number:05}", at: {hours[hour]}, breaths: 10, volume_ml: 1000}}\n'
        for number in range(patients)
        for hour in range(6)
    )
    return f"{head}{listed}entries:\n{entries}"


def test_the_whole_output_is_one_line_with_the_address(tmp_path: Path) -> None:
    (tmp_path / "night.yaml").write_text(NIGHT)
    with started(tmp_path, "night.yaml") as served:
        for path in ("/", "/put-right", "/nothing", "/sheets"):
            served.ask(path)
        served.add(served.beds()[0], at="21:00", breaths="5")
        served.ask("/entry", Host="evil.example")
        served.process.send_signal(signal.SIGINT)
        out, err = served.process.communicate(timeout=30)
    assert (out, err) == ("", "")  # the line with the address was read before
    assert served.process.returncode == 0
    assert (tmp_path / "night.yaml").read_text().count("at: 21:00") == 1


def test_a_log_of_the_folder_is_called_by_its_name(tmp_path: Path) -> None:
    folder = tmp_path / "logs"
    folder.mkdir()
    (folder / "night.yaml").write_text(NIGHT)
    with serving(tmp_path, "--folder", "logs", "logs/night.yaml") as served:
        page = served.ask("/put-right")[2]
        assert served.add(served.beds()[0], at="21:00", breaths="5") == 303
    assert "night.yaml, line 16" in page
    assert "logs/night.yaml" not in page
    assert (folder / "night.yaml").read_text().count("at: 21:00") == 1


def test_a_killed_desk_loses_no_entry_and_its_forms_are_dead(tmp_path: Path) -> None:
    log = tmp_path / "night.yaml"
    log.write_text(NIGHT)
    with serving(tmp_path, "night.yaml") as served:
        old_form = served.form("/entry")
        beds = served.beds()
        with ThreadPoolExecutor(4) as pool:
            sent = [pool.submit(chart, served, beds[n % 2], n) for n in range(20)]
            while log.stat().st_size == len(NIGHT) and not all(each.done() for each in sent):
                time.sleep(0.01)
            served.kill()
        answered = {n for n, each in enumerate(sent) if each.exception() is None and each.result()}
    between = log.read_text()
    assert between.startswith(NIGHT)
    written = [each.cells["note"] for each in read(str(log)).entries[2:]]
    assert {f"number {n}" for n in answered} <= set(written)
    assert len(set(written)) == len(written)
    with serving(tmp_path, "night.yaml") as again:
        status, _, _ = again.ask("/entry", {**old_form, "bed": beds[0], "breaths": "5"})
        assert status == 403
        assert log.read_text() == between
        assert again.add(again.beds()[0], at="23:00", breaths="5") == 303
    assert log.read_text().startswith(between)


def chart(served: Served, bed: str, number: int) -> bool:
    """Whether the desk said that the entry was added."""
    cells = {"at": f"21:{number:02}", "breaths": "5", "note": f"number {number}"}
    return served.add(bed, **cells) == 303


def test_many_requests_at_once_are_all_answered(tmp_path: Path) -> None:
    (tmp_path / "ward.yaml").write_text(ward_of(PATIENTS))
    with serving(tmp_path, "ward.yaml") as served:

        def ask(number: int) -> int:
            status, _, page = served.ask("/" if number % 2 else "/entry")
            assert number % 2 == 0 or page.count("<tr class=") == PATIENTS
            return status

        with ThreadPoolExecutor(AT_ONCE) as pool:
            assert list(pool.map(ask, range(REQUESTS))) == [200] * REQUESTS


def test_many_half_sent_requests_do_not_keep_others_out(tmp_path: Path) -> None:
    (tmp_path / "night.yaml").write_text(NIGHT)
    with serving(tmp_path, "night.yaml") as served, ExitStack() as half_open:
        for _ in range(150):
            address = ("127.0.0.1", served.port)
            connection = half_open.enter_context(socket.create_connection(address, timeout=10))
            connection.sendall(b"GET / HTTP/1.1\r\nHost: ")
        assert served.ask("/")[0] == 200
        assert served.add(served.beds()[0], at="21:00", breaths="5") == 303


def test_the_sheets_come_one_by_one(tmp_path: Path) -> None:
    (tmp_path / "ward.yaml").write_text(ward_of(6))
    parts = [b""]
    with (
        serving(tmp_path, "ward.yaml") as served,
        socket.create_connection(("127.0.0.1", served.port), timeout=60) as connection,
    ):
        ask = f"GET /sheets HTTP/1.1\r\nHost: {served.host}\r\nCookie: {served.cookie}\r\n\r\n"
        connection.sendall(ask.encode())
        while b"</html>" not in b"".join(parts[-2:]):
            parts.append(connection.recv(1 << 20))
            assert parts[-1]
    # However late they are read: what was sent at one time is one chunk.
    sent = re.split(rb"\r\n[0-9A-Fa-f]+\r\n", b"".join(parts))
    sheets = [len(re.findall(rb"sheet \d+ of \d+", each)) for each in sent]
    assert sum(sheets) == 6
    assert max(sheets) == 1


def test_it_is_heard_on_this_machine_alone(tmp_path: Path) -> None:
    with serving(tmp_path) as served:
        port = served.port
        listening = Path("/proc/net/tcp").read_text() + Path("/proc/net/tcp6").read_text()
        addresses = {line.split()[1] for line in listening.splitlines()[1:] if " 0A " in line}
        assert {each for each in addresses if each.endswith(f":{port:04X}")} == {
            f"0100007F:{port:04X}"
        }


def test_nobody_there_for_a_while_ends_it(tmp_path: Path) -> None:
    said: list[str] = []
    serve(setting(tmp_path), [], Serving(idle_min=0.02, browser=False), said.append)
    assert len(said) == 1


def test_a_start_that_takes_longer_than_the_idle_time_ends_as_quietly(tmp_path: Path) -> None:
    serving = Serving(idle_min=0.001, browser=False)
    serve(setting(tmp_path), [], serving, lambda _address: time.sleep(0.1))


def test_the_browser_is_opened_at_the_address(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[str] = []
    said: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)
    serve(setting(tmp_path), [], Serving(idle_min=0.02), said.append)
    (address,) = opened
    printed = said[0].split()[5]
    assert address.startswith("http://127.0.0.1:")
    assert address.rpartition("=")[0] == printed.rpartition("=")[0]
    assert address != printed


def test_a_port_that_is_taken_is_a_sentence(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(ServeError, match=f"port {port} is taken"):
            serve(setting(tmp_path), [], Serving(port=port), print)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--folder", "nowhere"], "is no folder"),
        (["--limits", "nowhere.yaml"], "No such file"),
        (["--font", "nowhere.ttf"], "not a TrueType font"),
    ],
)
def test_a_desk_that_cannot_start_says_why(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["desk", "--no-browser", *arguments]) == 2
    assert words in capsys.readouterr().err


def test_without_the_extra_one_line_says_how_to_install_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("handoff.cli.desk.find_spec", lambda _name: None)
    assert main(["desk"]) == 2
    assert capsys.readouterr().err == (
        "handoff: the desk needs three more packages; install them with: "
        "pip install 'handoff[desk]'.\n"
    )
