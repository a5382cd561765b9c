"""Who is next, in a real browser: by keyboard alone, in two windows, however it looks."""

import os
import re
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from handoff.read import read
from tests.support.servers import Served, serving

browsers = pytest.importorskip("tests.support.browsers", reason="Playwright is not installed")
if browsers.CHROMIUM is None:
    pytest.skip("there is no chromium on this machine", allow_module_level=True)

from playwright.sync_api import Browser, Page, Route, expect  # noqa: E402

expect.set_options(timeout=30_000)  # a loaded machine is slow, and no test is about time

SMALLEST_LABEL_PX = 13
LOG = """\
unit: {{name: Oak, time_zone: Etc/UTC, quiet_hours: none}}
shift: {{start: {start:%Y-%m-%d %H:%M}, end: {end:%Y-%m-%d %H:%M}}}
patients:
{patients}
entries:
- {{patient: "1", at: "{late:%Y-%m-%d %H:%M}", breaths: 10, volume_ml: 1200, pain: 2}}
- {{patient: "3", at: "{late:%Y-%m-%d %H:%M}", breaths: 8, volume_ml: 950}}
- {{patient: "3", at: "{seen:%Y-%m-%d %H:%M}", breaths: 8, volume_ml: 900, spo2: 84, on_oxygen: no}}
"""
PATIENT = (
    '- {{id: "{bed}", name: "{name}", born: 1950-01-01, bed: "{bed}",'
    " order: {{start: {start:%Y-%m-%d %H:%M}, goal_ml: 1500}}}}"
)
NAMES = {"1": "Larkspur, Odile", "2": "Quist, Bram", "3": "Harrowell, Joan", "4": "Falkvard, Ulf"}


def write_log(path: Path) -> None:
    """A log of the shift that is running now: bed 3 has an untold danger, the others are late."""
    now = datetime.now(UTC)
    start = now.replace(minute=0, second=0, microsecond=0) - timedelta(hours=6)
    patients = [PATIENT.format(bed=bed, name=name, start=start) for bed, name in NAMES.items()]
    path.write_text(
        LOG.format(
            start=start,
            end=start + timedelta(hours=12),
            patients="\n".join(patients),
            late=start + timedelta(minutes=30),
            seen=start + timedelta(minutes=50),
        )
    )


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with browsers.chromium() as browser:
        yield browser


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    write_log(tmp_path / "day.yaml")
    with serving(tmp_path, "day.yaml") as served:
        yield served


def enter(page: Page, served: Served) -> None:
    page.goto(served.address)
    page.wait_for_url(f"{served.origin}/")


def press(page: Page, *keys: str) -> int:
    for key in keys:
        page.keyboard.press(key)
    return len(keys)


def row(page: Page, bed: str) -> Any:
    return page.locator("tbody.one").filter(has=page.locator(f"td.bed >> text=/^{bed}$/"))


def rows(folder: Path) -> list[dict[str, str]]:
    return [dict(each.cells) for each in read(str(folder / "day.yaml")).entries[3:]]


def test_a_round_is_charted_by_keyboard_alone_and_nothing_is_typed_twice(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    with browsers.tab(browser) as page:
        enter(page, served)
        first = row(page, "2")  # the latest: nothing is charted since the shift's start
        expect(first.get_by_role("link", name="Entry for 2")).to_be_focused()
        used = press(page, "Enter")
        expect(first.get_by_label("Breaths")).to_be_focused()
        expect(first.locator(".at-hand")).to_contain_text("goal 1,500 mL")
        used += press(page, *"10", "Tab", *"1350", "Enter")
        assert used <= 10
        expect(page.locator("main > .notice")).to_contain_text("Added. Bed 2, Quist, Bram")

        second = row(page, "4")  # it opens by itself
        expect(second.get_by_label("Breaths")).to_be_focused()
        used = 1 + press(page, *"10", "Tab", *"1350", "Tab", *"96", "Enter")
        assert used <= 14
        expect(page.locator("main > .notice")).to_contain_text("Added. Bed 4, Falkvard, Ulf")

        third = row(page, "1")
        expect(third.get_by_label("Breaths")).to_be_focused()
        press(page, "Escape")
        expect(third.get_by_role("link", name="Entry for 1")).to_be_focused()
        used = press(page, "a")
        expect(third.get_by_role("radio").first).to_be_focused()
        used += press(page, "Space", "Enter")
        assert used <= 4
        expect(page.locator("main > .notice")).to_contain_text("asleep")
        expect(third).to_contain_text("nothing due until")

        press(page, "ArrowUp", "ArrowUp", "ArrowUp", "ArrowUp")
        danger = row(page, "3")
        expect(danger.get_by_role("link", name="Entry for 3")).to_be_focused()
        expect(danger.locator(".when")).to_contain_text("no exerciselow oxygen")
        used = press(page, "t")
        expect(danger.get_by_role("checkbox", name="Low oxygen")).to_be_focused()
        expect(danger.get_by_role("checkbox", checked=True)).to_have_count(0)
        used += press(page, "Space", "Tab", *"Dr Quill", "Enter")
        assert used <= 12
        expect(page.locator("main > .notice")).to_contain_text("told")
        expect(danger).to_contain_text("TOLD")

        press(page, "/", *"quist", "Enter")
        expect(first.get_by_label("Breaths")).to_be_focused()
        for label, nothing in {"Breaths": "", "Best volume mL": ""}.items():
            expect(first.get_by_label(label)).to_have_value(nothing)  # what is added is not kept
        expect(danger).to_be_hidden()
        press(page, "Escape")
    assert list(tmp_path.glob(".handoff-drafts*")) == []
    written = [
        {name: cell for name, cell in each.items() if name != "at"} for each in rows(tmp_path)
    ]
    assert written[0] == {"patient_id": "2", "breaths": "10", "volume_ml": "1350"}
    assert written[1] == {"patient_id": "4", "breaths": "10", "volume_ml": "1350", "spo2": "96"}
    assert written[2].pop("until")
    assert written[2] == {"patient_id": "1", "what": "asleep"}
    assert written[3] == {"patient_id": "3", "what": "told", "about": "oxygen", "note": "Dr Quill"}


def test_a_second_window_and_an_editor_are_seen_and_what_is_typed_stays(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    with browsers.tab(browser) as one:
        enter(one, served)
        two = one.context.new_page()
        two.goto(served.origin)
        expect(two).to_have_title(re.compile(r"^\(4\) Ward"))
        row(two, "4").get_by_role("link", name="Entry").click()
        row(two, "4").get_by_label("Breaths").press_sequentially("7")

        row(one, "2").get_by_role("link", name="Entry").click()
        row(one, "2").get_by_label("Breaths").fill("10")
        row(one, "2").get_by_role("button", name="Add the entry", exact=True).click()
        expect(row(one, "2")).to_contain_text("next from")
        expect(row(two, "2")).to_contain_text("next from")
        expect(two).to_have_title(re.compile(r"^\(3\) Ward"))

        link = one.locator("[data-part=rest-1]").get_by_role("link", name="Bed 4, Falkvard, Ulf")
        link.focus()
        link.evaluate("each => each.dataset.before = 'yes'")
        with (tmp_path / "day.yaml").open("a") as log:
            log.write(f'- {{patient: "1", at: {datetime.now(UTC):%H:%M}, what: declined}}\n')
        for page in (one, two):
            expect(row(page, "1")).to_contain_text("next from")
            expect(page.locator(".reminder")).to_contain_text("1 late")
        expect(link).not_to_have_attribute("data-before", "yes")  # the part was put in anew
        expect(link).to_be_focused()
        press(one, "Enter")
        expect(one.get_by_role("heading", name="Falkvard, Ulf")).to_be_visible()
        one.go_back()

        name = row(one, "1").get_by_role("link", name=NAMES["1"], exact=True)
        name.focus()
        name.evaluate("each => each.dataset.before = 'yes'")
        with (tmp_path / "day.yaml").open("a") as log:
            log.write(f'- {{patient: "1", at: {datetime.now(UTC):%H:%M}, breaths: 5}}\n')
        expect(name).not_to_have_attribute("data-before", "yes")
        expect(name).to_be_focused()

        expect(row(two, "4").get_by_label("Breaths")).to_have_value("7")
        expect(row(two, "4").get_by_label("Breaths")).to_be_focused()

        # A log that cannot be read is said in an open window too.
        (tmp_path / "day.yaml").rename(tmp_path / "away.txt")
        expect(one.get_by_role("alert")).to_contain_text("day.yaml")
        (tmp_path / "away.txt").rename(tmp_path / "day.yaml")
        expect(row(one, "1")).to_contain_text("last charted")

        served.kill()
        row(two, "4").get_by_role("button", name="Add the entry", exact=True).click()
        expect(row(two, "4").get_by_role("alert")).to_contain_text("nothing was written")
        expect(row(two, "4").get_by_label("Breaths")).to_have_value("7")
        expect(one.locator("#stale")).to_contain_text("not up to date")
        two.evaluate("document.querySelector('.place').remove()")  # or leaving asks


def entry_of(page: Page, bed: str) -> Any:
    row(page, bed).get_by_role("link", name=f"Entry for {bed}").click()
    form = row(page, bed).get_by_role("form", name=f"Bed {bed}, {NAMES[bed]} · id {bed}")
    expect(form.get_by_label("Breaths")).to_be_focused()  # so that it is heard whose they are
    return row(page, bed)


def test_after_add_and_next_nobody_is_asked_for_who_was_charted_a_moment_ago(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    at = datetime.now(UTC) - timedelta(minutes=20)
    with (tmp_path / "day.yaml").open("a") as log:  # over, but nobody was told: bed 3 stays first
        log.write(f'- {{patient: "3", at: "{at:%Y-%m-%d %H:%M}", spo2: 97, on_oxygen: no}}\n')
    with browsers.tab(browser) as page:
        enter(page, served)
        entry_of(page, "3")
        for bed in ("3", "2", "4"):
            expect(row(page, bed).get_by_label("Breaths")).to_be_focused()
            press(page, "3", "Enter")  # of 10: more breaths are due, but not from this patient now
            expect(page.locator("main > .notice")).to_contain_text(f"Added. Bed {bed},")
        last = row(page, "1")
        expect(last.get_by_label("Breaths")).to_be_focused()
        press(page, "Tab", "Tab", *"84", "Enter")  # a danger comes before whoever is next
        expect(last.get_by_role("link", name="Told of 1, Larkspur, Odile")).to_be_focused()
        expect(page.locator(".place")).to_have_count(0)
        press(page, "t")
        expect(last.get_by_role("checkbox", name="Low oxygen")).to_be_focused()
    assert [each["patient_id"] for each in rows(tmp_path)[1:]] == ["3", "2", "4", "1"]


def test_what_is_refused_is_no_less_kept_than_what_is_typed_and_nothing_above_it_says_added(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    with browsers.tab(browser) as page:
        enter(page, served)
        entry_of(page, "4")
        press(page, *"10")
        row(page, "4").get_by_role("button", name="Add the entry", exact=True).click()
        expect(page.locator("main > .notice")).to_contain_text("Added. Bed 4")
        (*_, added) = rows(tmp_path)
        again = entry_of(page, "4")
        again.get_by_label("Time").fill(added["at"])
        again.get_by_label("Breaths").fill("10")
        press(page, "Enter")
        expect(again.get_by_text("The same entry is already there").first).to_be_visible()
        expect(again.locator(".problems")).to_be_focused()
        again.locator(".problems").get_by_role("link", name="Time").first.click()
        expect(again.get_by_label("Time")).to_be_focused()
        expect(page.get_by_text("Added. Bed 4")).to_have_count(0)
        expect(page.locator("form[data-unkept]")).to_have_count(0)
        again.get_by_role("button", name="Close").click()
        expect(entry_of(page, "4").get_by_label("Breaths")).to_have_value("")  # it is in the log
        entry_of(page, "2")
        page.evaluate("""() => {
          const form = document.querySelector("form.entry").elements;
          form.filled_in.value = `${form.at.value}@${Math.floor(Date.now() / 1000) - 7200}`;
        }""")
        with page.expect_response("**/drafts"):
            press(page, *"1200", "Enter")  # at once, so that no pause has kept it before
            expect(row(page, "2").get_by_text("Not written yet")).to_be_visible()
        entry_of(page, "1").get_by_text("Best volume mL").click()  # of two forms that are open
        expect(row(page, "1").get_by_label("Best volume mL")).to_be_focused()
        expect(row(page, "2").get_by_label("Breaths")).to_have_value("1200")
        renamed = (tmp_path / "day.yaml").read_text().replace(NAMES["2"], "Quillfeather, Ida")
        (tmp_path / "day.yaml").write_text(renamed)
        page.context.new_page().goto(served.origin)
        (other,) = page.context.pages[1:]
        row(other, "2").get_by_role("link", name="Entry for 2").click()
        expect(row(other, "2").get_by_label("Breaths")).to_have_value("1200")
        row(other, "2").get_by_label("Breaths").fill("10")
        press(other, "Enter")  # it was typed for somebody else
        expect(row(other, "2").locator(".problems")).to_contain_text("opened for bed 2, Quist")
        row(other, "2").get_by_label("Breaths").focus()
        press(other, "Enter")  # the time is that of two hours ago, which is asked about
        expect(row(other, "2").get_by_text("Not written yet")).to_be_visible()
        expect(row(other, "2")).to_contain_text("120 minutes ago")
        for each in (page, other):
            each.evaluate("for (const each of document.querySelectorAll('.place')) each.remove()")


@contextmanager
def slow(page: Page, of: str, method: str = "GET") -> Iterator[list[Route]]:
    """The desk answers no such request until the end of this."""
    held: list[Route] = []
    page.route(
        of, lambda each: held.append(each) if each.request.method == method else each.fallback()
    )
    yield held
    for each in held:
        each.continue_()
    page.unroute(of)


def test_who_opens_the_next_form_before_the_list_is_renewed_goes_on_typing_there(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    with browsers.tab(browser) as page:
        enter(page, served)
        entry_of(page, "4")
        with slow(page, "**/*edition=*") as held:  # the list is renewed later
            press(page, *"10", "Enter")
            expect(page.locator("main > .notice")).to_contain_text("Added. Bed 4")
            entry_of(page, "1")
            assert held
        expect(row(page, "4")).to_contain_text("next from")  # renewed
        press(page, *"8", "Enter")
        expect(page.locator("main > .notice")).to_contain_text("Added. Bed 1")
    assert [each["patient_id"] for each in rows(tmp_path)] == ["4", "1"]


def test_a_click_is_not_lost_where_the_list_is_renewed_while_the_button_is_down(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    with browsers.tab(browser) as page:
        enter(page, served)
        with slow(page, "**/*edition=*") as held:
            (tmp_path / "day.yaml").write_text(
                (tmp_path / "day.yaml").read_text().replace(NAMES["2"], "Quillfeather, Ida")
            )
            link = row(page, "2").get_by_role("link", name="Entry for 2")
            link.hover()
            while not held:
                page.wait_for_timeout(50)
            page.mouse.down()
        page.wait_for_timeout(300)
        page.mouse.up()
        expect(row(page, "2").get_by_label("Breaths")).to_be_focused()
        expect(row(page, "2").get_by_role("rowheader")).to_contain_text("Quillfeather, Ida")


def by_key(page: Page, bed: str, *keys: str) -> None:
    """What is done in the row of a bed by keys alone."""
    row(page, bed).get_by_role("link", name=f"Entry for {bed}").focus()
    press(page, *keys)


def test_what_a_slow_desk_answers_takes_no_keyboard_and_loses_nothing(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    with browsers.tab(browser) as page:
        enter(page, served)
        with slow(page, "**/entry", "POST") as held:
            entry_of(page, "4")
            press(page, *"many", "Enter")
            entry_of(page, "1")
            press(page, "1")
            assert held
        expect(row(page, "4").locator(".problems")).to_contain_text("Not written yet")
        expect(row(page, "1").get_by_label("Breaths")).to_be_focused()
        press(page, "0", "Enter")
        expect(page.locator("main > .notice")).to_contain_text("exercise, 10 breaths")
        page.evaluate("for (const each of document.querySelectorAll('.place')) each.remove()")

        with slow(page, "**/entry?*in_place*"):  # who looks for another meanwhile types on there
            row(page, "2").get_by_role("link", name="Entry for 2").click()
            page.get_by_label("Find").click()
            press(page, *"qu")
        expect(row(page, "2").get_by_label("Breaths")).to_be_visible()
        press(page, *"ist")
        expect(page.get_by_label("Find")).to_have_value("quist")
        press(page, "Escape")
        page.evaluate("for (const each of document.querySelectorAll('.place')) each.remove()")

        with slow(page, "**/entry?*in_place*"):  # who charts goes on before the form is there
            by_key(page, "2", "e", *"10", "Tab", *"13")
        expect(row(page, "2").get_by_label("Best volume mL")).to_be_focused()
        press(page, *"50")
        for label, value in {"Breaths": "10", "Best volume mL": "1350"}.items():
            expect(row(page, "2").get_by_label(label)).to_have_value(value)
        page.evaluate("for (const each of document.querySelectorAll('.place')) each.remove()")

        by_key(page, "2", "d")
        with page.expect_response(lambda each: "yesterday" in (each.request.post_data or "")):
            row(page, "2").get_by_label("Why, if it was said").fill("of yesterday")
        page.evaluate("document.querySelector('.place').remove()")
        page.reload()
        with slow(page, "**/drafts"):  # what is put back into a form too late is not sent with it
            by_key(page, "2", "d")
            expect(row(page, "2").get_by_label("Why, if it was said")).to_be_focused()
            press(page, "Enter")
            expect(row(page, "2").locator("form[data-sending]")).to_have_count(1)
        expect(page.locator("main > .notice")).to_contain_text("declined")

        assert "of yesterday" in next(tmp_path.glob(".handoff-drafts*")).read_text()

        by_key(page, "4", "d")
        with slow(page, "**/declined", "POST") as held:
            expect(row(page, "4").get_by_label("Why, if it was said")).to_be_focused()
            press(page, "Enter", "Escape")
            entry_of(page, "1")
            while held:
                held.pop().abort()
        expect(row(page, "4").get_by_role("alert")).to_contain_text("nothing was written")
        page.evaluate("for (const each of document.querySelectorAll('.place')) each.remove()")
    assert [(each.get("what"), each.get("note")) for each in rows(tmp_path)] == [
        (None, None),
        ("declined", None),
    ]


def typed_in(page: Page, bed: str) -> dict[str, str]:
    """What stands in the text fields of a bed's form, but for the time."""
    fields = row(page, bed).locator("form input[inputmode=decimal], form input[name=note]")
    known = fields.evaluate_all("each => each.map(one => [one.name, one.value])")
    return {name: value for name, value in known if value}


def test_what_is_typed_before_a_form_is_there_is_typed_into_it_as_the_tab_key_would(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    with browsers.tab(browser) as page:
        enter(page, served)
        with slow(page, "**/entry?*in_place*"):
            by_key(page, "2", "e", *"200", "Shift+Tab")  # not this patient; then again
            by_key(
                page, "2", "e", *"130", "Backspace", "Tab", *"9", "Tab", "Tab", "Tab", "Enter", "7"
            )
        main = row(page, "2").get_by_role("button", name="Add the entry, and next")
        expect(main).to_be_focused()  # seen first, and sent with the next key
        assert typed_in(page, "2") == {"breaths": "13", "volume_ml": "9"}
        page.evaluate("document.querySelector('.place').remove()")

        with slow(page, "**/asleep?*in_place*"):
            by_key(page, "2", "a", " ", "Tab", "Tab", *"07:30", "Tab", *"tired")
        expect(row(page, "2").get_by_role("radio").first).to_be_checked()
        expect(row(page, "2").get_by_label("Time", exact=True)).to_have_value(
            "07:30"
        )  # in the place of now
        page.evaluate("document.querySelector('.place').remove()")

        with slow(page, "**/entry?*in_place*"):
            by_key(page, "2", "e", "Escape")
        expect(row(page, "2").locator(".place")).to_have_count(0)

        # After Enter the rest of a number does not go alone to the next patient, nor to a form that
        # has to be looked at again.
        for held_back, method in (("**/*edition=*", "GET"), ("**/entry", "POST")):
            entry_of(page, "4")
            with slow(page, held_back, method) as held:
                press(page, *"10", "Enter")
                if method == "GET":
                    expect(page.locator("main > .notice")).to_contain_text("Added. Bed 4")
                page.wait_for_function(
                    "() => document.querySelector('.place form:not([data-sending])') === null"
                )
                press(page, "1")
                assert held or method == "POST"
            if method == "GET":
                expect(row(page, "2").get_by_label("Breaths")).to_be_focused()
                press(page, "2")
                assert typed_in(page, "2") == {"breaths": "12"}
                page.evaluate("document.querySelector('.place').remove()")
            else:
                expect(row(page, "4").locator(".problems")).to_be_focused()  # it is there already
                press(page, "2")
                assert typed_in(page, "4") == {"breaths": "10"}
        page.evaluate("document.querySelector('.place').remove()")
    assert [each["breaths"] for each in rows(tmp_path)] == ["10"]


HASTE = """const of = AbortSignal.timeout.bind(AbortSignal);
AbortSignal.timeout = (ms) => of(ms / 5);"""  # what hangs is given up sooner


@contextmanager
def hanging(served: Served) -> Iterator[None]:
    """The desk takes every request and answers none until the end of this."""
    os.kill(served.process.pid, signal.SIGSTOP)
    try:
        yield
    finally:
        os.kill(served.process.pid, signal.SIGCONT)


def test_a_form_of_a_desk_that_hangs_is_closed_and_what_was_typed_is_there_again(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    with browsers.tab(browser) as page:
        page.add_init_script(HASTE)
        enter(page, served)
        sent, typed = entry_of(page, "2"), row(page, "1")
        with hanging(served):
            press(page, *"10", "Enter")
            expect(sent.locator("form[data-sending]")).to_have_count(1)
            press(page, "Escape")
            expect(sent.locator(".place")).to_be_hidden()
            expect(sent.get_by_role("link", name="Entry for 2")).to_be_focused()
            expect(page.locator("#stale")).to_contain_text("the desk does not answer")
            # What came of it is told where it was typed, and it is there.
            expect(sent.get_by_role("alert")).to_contain_text("nothing was written")
            expect(sent.get_by_label("Breaths")).to_have_value("10")
            sent.get_by_role("button", name="Close").click()
            expect(sent.locator(".place")).to_be_hidden()
            press(page, "Enter")
            expect(sent.get_by_label("Breaths")).to_have_value("10")
            press(page, "Escape", "ArrowDown", "Enter")  # no form comes, and the list stays
            expect(page.locator(".place:visible")).to_have_count(0)

        expect(page.locator("#stale")).to_have_count(0)
        expect(sent).to_contain_text("next from")  # it was taken after all
        entry_of(page, "1")
        press(page, "7", "Escape")
        expect(typed.locator(".place")).to_have_count(0)  # it is kept
        expect(entry_of(page, "1").get_by_label("Breaths")).to_have_value("7")
        page.evaluate("for (const each of document.querySelectorAll('.place')) each.remove()")
    assert [(each["patient_id"], each["breaths"]) for each in rows(tmp_path)] == [("2", "10")]


USUAL = {"color_scheme": "light", "forced_colors": "none"}
# The third is what is new in a look, as in `test_browser`.
LOOKS: dict[str, tuple[Any, dict[str, Any], str]] = {
    "wide": ({"width": 1280, "height": 900}, {}, "all"),
    "tablet in a dark room": ({"width": 768, "height": 1024}, {"color_scheme": "dark"}, "colours"),
    "phone": ({"width": 390, "height": 844}, {}, "all the same"),
    "high contrast at 200 %": (
        *({"width": 640, "height": 450}, {"forced_colors": "active"}),
        "all the same",
    ),
}
SMALL_LABELS = """() => [...document.querySelectorAll('svg text')].filter(each =>
  parseFloat(each.getAttribute('font-size')) * each.getScreenCTM().a < 12.99).length"""


def look_at(page: Page, state: str, wrong: dict[tuple[str, str], object]) -> None:
    for look, (size, media, of) in LOOKS.items():
        page.set_viewport_size(size)
        page.emulate_media(**{**USUAL, **media})
        if found := browsers.violations(page, of):
            wrong[state, look] = found
        if wide := page.evaluate("document.documentElement.scrollWidth - innerWidth"):
            wrong[state, look] = f"{wide} too wide"
        if page.evaluate(SMALL_LABELS):
            wrong[state, look] = "labels under 13 px"
    page.set_viewport_size(LOOKS["wide"][0])


@pytest.mark.long
def test_axe_finds_nothing_in_any_state_however_it_looks_and_the_chart_answers(
    browser: Browser, served: Served
) -> None:
    wrong: dict[tuple[str, str], object] = {}
    with browsers.tab(browser, has_touch=True) as page:
        enter(page, served)
        look_at(page, "list", wrong)
        for key, state in [("e", "entry"), ("t", "told"), ("a", "asleep")]:
            row(page, "3").get_by_role("link", name="Entry").focus()
            press(page, key)
            expect(row(page, "3").locator("form")).to_be_visible()
            if state == "entry":
                expect(row(page, "3").get_by_text("No exercise: low oxygen")).to_be_visible()
                row(page, "3").get_by_label("Breaths").fill("many")
                press(page, "Enter")
                expect(row(page, "3").locator(".problems")).to_be_focused()
            look_at(page, state, wrong)
            page.get_by_role("button", name="Close").click()
        page.goto(f"{served.origin}/round")
        look_at(page, "small charts", wrong)
        page.get_by_role("link", name="Harrowell, Joan", exact=True).click()
        picked = page.locator("[data-picked]")
        page.get_by_role("slider", name="Reading").focus()
        press(page, "ArrowLeft")
        expect(picked).to_contain_text("exercise, 8 breaths, 950 mL (good form)")
        press(page, "End")
        expect(picked).to_contain_text("exercise, 8 breaths, 900 mL, SpO2 84 %, on air (good form)")
        expect(page.locator(".cursor")).to_be_visible()
        expect(page.get_by_role("slider")).to_have_attribute("aria-valuetext", re.compile("900"))
        look_at(page, "chart", wrong)
        page.get_by_text("The same as a table").click()
        expect(page.get_by_role("cell", name="84 %")).to_be_visible()
        expect(page.locator(".readings .picked")).to_have_count(1)
        page.reload()
        page.locator("[data-chart]").hover()
        expect(page.locator(".ring")).to_be_visible()
        page.reload()
        page.locator("[data-chart]").tap()
        expect(page.locator(".ring")).to_be_visible()
    assert wrong == {}
