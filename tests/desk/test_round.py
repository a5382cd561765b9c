"""Who is next: the order of the list, why somebody is not, and how it is kept up to date."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from handoff.desk import current
from handoff.desk.round import Row, rows_of
from handoff.desk.ward import Ward
from handoff.model.pages import UnitRow
from handoff.read import read
from tests.support.desks import Opened, fields_of_form, open_desk, said

# The shift is 07:00 to 19:00 in UTC; quiet hours are 17:00 to 19:00.
WARD = """\
unit: {name: Oak, time_zone: Etc/UTC, quiet_hours: "17:00-19:00"}
shift: {start: 2026-03-06 07:00, end: 2026-03-06 19:00}
patients:
%s
entries:
%s
"""
PATIENTS = "".join(
    f'- {{id: "{bed}", name: "Last{bed}, First", born: 1950-01-01, bed: "{bed}",'
    " order: {start: 2026-03-06 07:00, goal_ml: 1500%s}}\n" % (", comfort_care: yes" * (bed == 9))
    for bed in range(1, 11)
)
ENTRIES = """\
- {patient: "1", at: 12:40, breaths: 10, volume_ml: 1200}
- {patient: "2", at: 13:10, breaths: 10, volume_ml: 1300}
- {patient: "3", at: 09:10, breaths: 10, volume_ml: 1100}
- {patient: "4", at: 13:05, what: hold, note: Dr Quill}
- {patient: "5", at: 13:00, what: asleep, until: 15:00}
- {patient: "6", at: 13:05, what: away, until: 14:10}
- {patient: "7", at: 13:02, breaths: 10, volume_ml: 1000, spo2: 84, on_oxygen: no}
- {patient: "8", at: 11:50, breaths: 10, volume_ml: 1000}
- {patient: "9", at: 12:50, breaths: 10}
- {patient: "10", at: 13:01, breaths: 4, volume_ml: 900}
"""


class Clock:
    def __init__(self, at: str) -> None:
        self.at = datetime.fromisoformat(at).replace(tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.at


@pytest.fixture
def clock() -> Clock:
    return Clock("2026-03-06 13:20")


@pytest.fixture
def opened(tmp_path: Path, clock: Clock) -> Opened:
    (tmp_path / "day.yaml").write_text(WARD % (PATIENTS, ENTRIES))
    return open_desk(tmp_path, "day.yaml", clock=clock)


def lines(opened: Opened, address: str = "/") -> dict[str, str]:
    """The words of each patient's row, by bed, in the order of the list."""
    page = opened.get(address).get_data(as_text=True)
    rows = re.findall(r"<tbody.*?</tbody>", page, re.DOTALL)
    words = [" ".join(re.sub("<[^>]+>", " ", row).split()) for row in rows]
    return {row.split()[0]: row for row in words}


def keys(opened: Opened) -> dict[str, str]:
    page = opened.get("/?sort=bed").get_data(as_text=True)
    return dict(zip(map(str, range(1, 11)), re.findall(r'data-key="(\w+)"', page), strict=True))


def test_open_matters_come_first_then_the_latest_then_what_is_due(opened: Opened) -> None:
    rows = lines(opened)
    assert list(rows) == ["7", "3", "8", "1", "10", "2", "6", "5", "4", "9"]
    for bed, words in {
        "3": "2 h 20 min late due by 11:00 last charted 09:10",
        "8": "20 min late due by 13:00 last charted 11:50",
        "1": "due by 14:00 last charted 12:40",
        "10": "due by 14:00 4 done of it last charted 13:01",
        "2": "next from 14:00 last charted 13:10",
        "4": "no exercise on hold no exercise charted",
        "5": "asleep nothing due until 15:00",
        "6": "away nothing due until 14:10",
        "7": "no exercise low oxygen last charted 13:02",
        "9": "no exercise comfort care",
    }.items():
        assert words in rows[bed], bed
    assert "last 1,200 mL best 1,200 mL (80 %) of 1,500 mL" in rows["1"]
    page = said(opened.get("/"))
    assert "1 to tell" in page
    assert "2 late" in page
    assert "<title>(3) Ward" in opened.get("/").get_data(as_text=True)


def test_a_danger_that_goes_on_comes_before_one_that_is_settled_and_late(
    tmp_path: Path, clock: Clock
) -> None:
    times = "shift: {start: 2026-03-06 07:00, end: 2026-03-06 19:00}"
    assert times in WARD
    night = WARD.replace(times, "shift: {start: 2026-03-05 19:00, end: 2026-03-06 07:00}")
    patients = PATIENTS.replace("start: 2026-03-06 07:00", "start: 2026-03-05 19:00")
    fast = (
        '- {patient: "1", at: 20:00, pulse: 140, breaths: 5}\n'
        '- {patient: "1", at: 22:00, pulse: 90}\n'
    )
    low = '- {patient: "2", at: 13:02, breaths: 10, spo2: 84, on_oxygen: no}\n'
    (tmp_path / "night.yaml").write_text(night % (patients, fast))
    (tmp_path / "day.yaml").write_text(WARD % (patients, low))
    found = lines(open_desk(tmp_path, "night.yaml", "day.yaml", clock=clock))
    assert list(found)[:2] == ["2", "1"]
    assert "ESCALATE" in found["2"]
    assert "FOLLOW UP" in found["1"]


def test_the_list_can_be_in_the_order_of_beds_or_of_urgency(opened: Opened) -> None:
    assert list(lines(opened, "/?sort=bed")) == list(map(str, range(1, 11)))
    assert next(iter(lines(opened, "/?sort=urgency"))) == "7"
    assert list(lines(opened, "/?sort=nonsense")) == list(lines(opened))


def test_nobody_is_asked_for_exercise_whom_the_sheet_says_not_to_coach(opened: Opened) -> None:
    page = opened.get("/").get_data(as_text=True)
    key = keys(opened)
    asked = set(re.findall(r'data-key="(\w+)"[^>]* data-next', page))
    assert asked == {key[bed] for bed in ("3", "8", "1", "10")}
    for bed in ("4", "7", "9"):
        row = lines(opened)[bed]
        assert "due by" not in row
        assert "late" not in row
        form = said(opened.get(f"/entry?bed={key[bed]}"))
        assert "No exercise: " in form
    assert "No exercise: on hold." in said(opened.get(f"/entry?bed={key['4']}"))


def test_in_quiet_hours_and_after_the_shift_nobody_is_next(opened: Opened, clock: Clock) -> None:
    clock.at += timedelta(hours=4)
    assert "quiet hours nothing due until 19:00" in lines(opened)["3"]
    clock.at += timedelta(hours=4)
    page = opened.get("/").get_data(as_text=True)
    assert "data as of 6 Mar 19:00" in said(opened.get("/"))
    assert "data-next" not in page


def test_a_page_that_is_up_to_date_is_told_so_and_another_gets_what_changed(
    opened: Opened, clock: Clock, tmp_path: Path
) -> None:
    def edition() -> str:
        page = opened.get("/").get_data(as_text=True)
        return str(re.findall(r'data-edition="([^"]+)"', page)[0])

    first = edition()
    assert opened.get(f"/live?edition={first}").status_code == 204
    with (tmp_path / "day.yaml").open("a") as log:  # by an editor, say
        log.write('- {patient: "3", at: 13:15, breaths: 10, volume_ml: 1150}\n')
    answer = opened.get(f"/live?edition={first}")
    assert answer.status_code == 200
    assert "next from 14:00 last charted 13:15" in said(answer)
    assert "<html" not in answer.get_data(as_text=True)
    assert opened.get(f"/live?edition={edition()}").status_code == 204
    second = edition()
    clock.at += timedelta(minutes=1)
    assert "21 min late" in said(opened.get(f"/live?edition={second}"))


def test_an_open_page_that_asks_for_news_does_not_keep_the_desk_open(opened: Opened) -> None:
    state = current.state(opened.client.application)
    opened.get("/")
    state.last_asked = 0.0
    opened.get("/live")
    assert state.last_asked == 0.0
    opened.get("/")
    assert state.last_asked > 0


def test_the_rows_are_made_once_for_all_windows(
    opened: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[tuple[Row, ...]] = []

    def counted(seen: Ward, number: int, shown: tuple[UnitRow, ...]) -> tuple[Row, ...]:
        made.append(rows_of(seen, number, shown))
        return made[-1]

    monkeypatch.setattr("handoff.desk.pages.ward.rows_of", counted)
    for address in ("/", "/live", "/?sort=bed", "/"):
        opened.get(address)
    assert len(made) == 1


def in_place(opened: Opened, address: str, **cells: str) -> tuple[int, str]:
    answer = opened.post(address, {"in_place": "yes", "form": cells.pop("form", "one"), **cells})
    return answer.status_code, answer.get_data(as_text=True)


def test_an_entry_is_charted_in_place_of_a_page(opened: Opened, tmp_path: Path) -> None:
    key, before = keys(opened)["1"], (tmp_path / "day.yaml").read_text()
    form = opened.get(f"/entry?bed={key}&in_place=yes").get_data(as_text=True)
    assert "<html" not in form
    assert "goal 1,500 mL device scale not recorded last 1,200 mL" in re.sub(
        r"\s+", " ", re.sub("<[^>]+>", " ", form)
    )
    wrong = in_place(opened, "/entry", bed=key, at="13:20", breaths="many")
    assert wrong[0] == 422
    assert "<html" not in wrong[1]
    assert 'value="many"' in wrong[1]
    status, text = in_place(opened, "/entry", bed=key, at="13:20", breaths="10", volume_ml="1250")
    assert status == 201
    log = tmp_path / "day.yaml"
    assert "<html" not in text
    assert (
        f"Added. Bed 1, Last1, First: 2026-03-06 13:20, exercise, 10 breaths, 1250 mL ({log}:27)."
    ) in text
    assert "next from 14:00" in lines(opened)["1"]
    assert opened.post("/history/undo", fields_of_form(text, "/history/undo")).status_code == 303
    assert log.read_text() == before
    assert "next from 14:00" not in lines(opened)["1"]


@pytest.mark.parametrize(
    ("step", "cells", "written"),
    [
        ("declined", {}, {}),
        ("asleep", {"until_chosen": "2026-03-06 15:00"}, {"until": "2026-03-06 15:00"}),
        ("asleep", {"until": "14:30"}, {"until": "14:30"}),
        ("away", {"until": "14:30", "note": "X-ray"}, {"until": "14:30", "note": "X-ray"}),
    ],
)
def test_declined_asleep_and_away_are_small_forms(
    opened: Opened, tmp_path: Path, step: str, cells: dict[str, str], written: dict[str, str]
) -> None:
    address = f"/patients/{keys(opened)['1']}/{step}"
    form = opened.get(f"{address}?in_place=yes").get_data(as_text=True)
    assert ("until_chosen" in form) == (step != "declined")
    status, _ = in_place(opened, address, at="13:20", **cells)
    assert status == 201
    added = read(str(tmp_path / "day.yaml")).entries[-1]
    assert added.cells == {"patient_id": "1", "at": "13:20", "what": step, **written}


def test_the_end_of_sleep_is_offered_and_never_filled_in(opened: Opened) -> None:
    form = opened.get(f"/patients/{keys(opened)['1']}/asleep").get_data(as_text=True)
    offered = re.findall(r'name="until_chosen" value="([^"]+)"(.*?)>', form)
    assert [value[11:] for value, _ in offered] == [
        *("14:00", "15:00", "16:00", "17:00", "18:00", "19:00")
    ]
    assert not [more for _, more in offered if "checked" in more]
    status, text = in_place(opened, f"/patients/{keys(opened)['1']}/asleep", at="13:20")
    assert status == 422
    assert "until" in text
