"""The change of shift: the next log offers itself, waits where it is early, and takes over by
itself; what is open stands there to be cleared; what is printed is chosen.
"""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from werkzeug.test import TestResponse

from tests.support.desks import STORY, Opened, fields_of_form, open_desk, said
from tests.support.sheets import read_pdf

END = datetime(2026, 3, 7, 8, 0, tzinfo=UTC)  # 04:00 on the unit
OFFER = "Change of shift: what is open, print, start the next log"


class Clock:
    """A clock that the test sets, in minutes to the shift's end."""

    def __init__(self, to_end: int) -> None:
        self.now = END - timedelta(minutes=to_end)

    def __call__(self) -> datetime:
        return self.now

    def set(self, to_end: int) -> None:
        self.now = END - timedelta(minutes=to_end)


@pytest.fixture
def clock() -> Clock:
    return Clock(to_end=5)


@pytest.fixture
def opened(tmp_path: Path, clock: Clock) -> Opened:
    (tmp_path / "night.yaml").write_text(STORY)
    return open_desk(tmp_path, "night.yaml", clock=clock)


def make_next(opened: Opened, **more: str) -> TestResponse:
    page = opened.get("/logs/new").get_data(as_text=True)
    kept = re.findall(r'name="keep" value="(\w+)" checked', page)
    form = fields_of_form(page, "/logs/new")
    return opened.post("/logs/new", {**form, "name": "day", "keep": kept, **more})


def charted(opened: Opened, bed: int, **cells: str) -> Path:
    """The log into which an entry of the patient in this place of the list went."""
    before = {path: Path(path).read_text() for path in opened.desk.paths}
    beds = re.findall(r'<option value="(\w{24})"', opened.get("/entry").get_data(as_text=True))
    sent = {"bed": beds[bed], "form": str(opened.desk.now()), **cells}
    answer = opened.post("/entry", sent)
    assert answer.status_code == 303, said(answer)
    (changed,) = (path for path in before if Path(path).read_text() != before[path])
    return Path(changed)


@pytest.mark.parametrize(
    ("to_end", "offered"),
    [(31, False), (30, True), (0, True), (-60, True), (-8 * 60 + 1, True), (-8 * 60, False)],
)
def test_the_next_log_offers_itself_half_an_hour_before_the_end(
    opened: Opened, clock: Clock, to_end: int, offered: bool
) -> None:
    clock.set(to_end)
    assert (OFFER in said(opened.get("/"))) is offered


def test_times_and_zone_are_chosen(opened: Opened, tmp_path: Path) -> None:
    page = opened.get("/logs/new").get_data(as_text=True)
    times = re.findall(r'name="(start|end)" value="([^"]*)" type="datetime-local"', page)
    assert times == [("start", "2026-03-07T04:00"), ("end", "2026-03-07T12:00")]
    nothing = open_desk(tmp_path).get("/logs/new").get_data(as_text=True)
    assert '<option value="America/Halifax">Halifax</option>' in nothing
    assert "selected" not in nothing.partition('id="time_zone"')[2].partition("</select>")[0]


def test_a_log_made_early_waits_and_takes_over_by_itself(
    opened: Opened, clock: Clock, tmp_path: Path
) -> None:
    answer = make_next(opened)
    name = "2026-03-07-day.yaml"
    page = said(opened.get(answer.headers["Location"]))
    assert f"{name} is made, and takes over by itself" in page
    assert f"{name} takes over by itself at 04:00" in said(opened.get("/"))
    assert opened.desk.ward().handovers[0].shift.name == "night"
    assert charted(opened, 1, at="03:51", breaths="6").name == "night.yaml"
    clock.set(0)
    (handover,) = opened.desk.ward().handovers
    assert (handover.shift.name, handover.as_of) == ("day", END)
    verdicts = opened.desk.ward().results[0].verdicts["10442"]
    assert {each.name for each in verdicts.open_matters} >= {"low-oxygen"}  # carried
    assert "takes over by itself" not in said(opened.get("/"))
    clock.set(-5)
    assert charted(opened, 1, at="04:03", breaths="7").name == name
    # A desk that was killed and started again with both logs does the same.
    clock.set(10)
    again = open_desk(tmp_path, name, "night.yaml", clock=clock)
    assert again.desk.ward().handovers[0].shift.name == "night"
    clock.set(-1)
    assert again.desk.ward().handovers[0].shift.name == "day"


def test_an_early_list_that_is_behind_is_told_and_made_anew(opened: Opened, clock: Clock) -> None:
    make_next(opened)
    assert "Its list is that of this shift" in said(opened.get("/change-of-shift"))
    night = Path(opened.desk.paths[0])
    night.write_text(
        night.read_text()
        .replace("goal_ml: 1500", "goal_ml: 1200")
        .replace("entries:", '- {id: "3", name: "Sand, Ida", born: 1950-01-01, bed: 14}\nentries:')
    )
    assert "Its list is behind: 2 patients." in said(opened.get("/"))
    page = opened.get("/change-of-shift").get_data(as_text=True)
    assert "14 · Sand, Ida: is on one list only" in said(opened.get("/change-of-shift"))
    form = fields_of_form(page, "/change-of-shift/list")
    assert opened.post("/change-of-shift/list", form).status_code == 303
    assert "Its list is that of this shift" in said(opened.get("/change-of-shift"))
    clock.set(-1)
    (handover,) = opened.desk.ward().handovers
    assert handover.shift.name == "day"
    goals = {each.id: each.order and each.order.goal_ml for each in handover.patients}
    assert goals == {"10442": 1200, "00718": None, "3": None}
    early = Path(opened.desk.paths[1])
    early.write_text(early.read_text() + '- {patient: "3", at: 04:01, what: note, note: new}\n')
    clock.set(2)
    before = early.read_text()
    assert opened.post("/change-of-shift/list", form).status_code == 409
    assert early.read_text() == before


def test_an_early_list_is_behind_where_an_order_before_the_last_differs(opened: Opened) -> None:
    night, first = Path(opened.desk.paths[0]), "start: 2026-03-06 10:00, goal_ml: 1500"
    two = f"orders: [{{{first}}}, {{start: 2026-03-07 08:00, breaths: 5}}]"
    night.write_text(night.read_text().replace(f"order: {{{first}}}", two))
    make_next(opened)
    assert "Its list is that of this shift" in said(opened.get("/change-of-shift"))
    night.write_text(night.read_text().replace(first, f"{first}, breaths: 8"))
    assert "Its list is behind: 1 patient." in said(opened.get("/"))
    words = said(opened.get("/change-of-shift"))
    assert "12A · Larkspur, Odile: breaths ordered" in words.replace("Breaths", "breaths")


def test_a_log_alone_or_of_a_later_day_does_not_wait(opened: Opened, clock: Clock) -> None:
    make_next(opened)
    early = opened.desk.paths[1]
    opened.desk.open([early])
    assert opened.desk.ward().handovers[0].shift.name == "day"
    clock.set(25 * 60)
    opened.desk.open([str(Path(early).with_name("night.yaml")), early])
    assert not opened.desk.ward().to_come  # a finding speaks of its date


def test_what_is_open_stands_there_and_each_line_leads_to_its_form(
    opened: Opened, clock: Clock
) -> None:
    path = Path(opened.desk.paths[0])
    text = path.read_text() + '- {patient: "00718", at: 21:10, breaths: x, what: hodl}\n'
    path.write_text(text)
    page = opened.get("/change-of-shift").get_data(as_text=True)
    words = said(opened.get("/change-of-shift"))
    verdicts = opened.desk.ward().results[0].verdicts["10442"]
    untold = [each for each in verdicts.open_matters if not each.is_told]
    assert len(untold) == 3
    assert page.count("Write down whom you told") == 3
    assert "1 row counts in no number" in words
    measures = opened.desk.ward().results[0].measures["00718"]
    counts = measures.adherence.slots_uncharted, measures.adherence.slots_due
    assert "{} of {} spans not charted".format(*counts) in words
    form_path = re.findall(r'href="(/patients/\w+/told\?of=\w+)"', page)[0]
    form = opened.get(form_path).get_data(as_text=True)
    about = re.findall(r'name="about" value="([^"]+)"', form)
    address = form_path.partition("?")[0]
    told = {"form": "t", "at": "03:55", "note": "told Dr Quill", "about": about[0]}
    clock.set(3)
    assert opened.post(address, told).status_code == 303
    now = opened.get("/change-of-shift").get_data(as_text=True)
    assert now.count("Write down whom you told") < 3


def test_what_is_printed_is_chosen(opened: Opened) -> None:
    page = opened.get("/print").get_data(as_text=True)
    (first, second) = re.findall(r'name="who" value="(\w{24})"', page)
    assert first != second

    def printed(**asked: str) -> dict[str, str]:
        made = opened.get("/sheets", query_string=asked).get_data(as_text=True)
        links = re.findall(r'href="(/sheets/\w+\.pdf)"[^>]*>([^<]+)</a>', made)
        return {title: " ".join(read_pdf(opened.get(link).data).pages) for link, title in links}

    only = printed(what="summary", initials="yes")
    assert list(only) == ["Unit summary"]
    assert "Larkspur" not in only["Unit summary"]
    one = printed(what="beds", who=second)
    assert "Quist" in one["All patient sheets"]
    assert "Larkspur" not in one["All patient sheets"]
    assert "Larkspur" in one["Unit summary"]
    none = opened.get("/sheets", query_string={"what": "beds"})
    assert "Tick at least one bed" in said(opened.get(none.headers["Location"]))
