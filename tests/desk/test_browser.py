"""The desk in a real browser: the whole job, by mouse, by keyboard alone, and without script."""

import re
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from threading import Thread
from typing import Any, ClassVar

import pytest

from handoff.read import read
from tests.support.desks import EVENING_CSV, NIGHT
from tests.support.servers import Served, serving

browsers = pytest.importorskip("tests.support.browsers", reason="Playwright is not installed")
if browsers.CHROMIUM is None:
    pytest.skip("there is no chromium on this machine", allow_module_level=True)

import pypdfium2  # noqa: E402
from playwright.sync_api import Browser, Page, expect  # noqa: E402

expect.set_options(timeout=30_000)  # a loaded machine is slow, and no test is about time

PAGES = (
    *("/", "/entry", "/put-right", "/logs", "/logs/new", "/unit", "/patients/new", "/sheets"),
    *("/history", "/change-of-shift", "/print", "/weeks", "/nothing"),
)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with browsers.chromium() as browser:
        yield browser


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    (tmp_path / "night.yaml").write_text(NIGHT)
    with serving(tmp_path, "night.yaml") as served:
        yield served


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A desk for tests that write nothing."""
    folder = tmp_path_factory.mktemp("standing")
    escalated = NIGHT.replace("volume_ml: 1100}", "volume_ml: 1100, spo2: 84, symptoms: [faint]}")
    escalated = escalated.replace(
        "  bed: 12A", "  bed: 12A\n  precautions: flat, spine not cleared"
    )
    # As wide as the volume of a row gets: read at the top of the device.
    escalated = escalated.replace(
        "  order: {start", "  device: {scale_ml: 1100}\n  order: {start", 1
    )
    escalated += '- {patient: "00718", at: 21:00, what: hold, note: imaging first}\n'
    (folder / "night.yaml").write_text(escalated)
    with serving(folder, "night.yaml") as served:
        yield served


def enter(page: Page, served: Served) -> None:
    """Open the desk as its user does, by the address that was printed."""
    page.goto(served.address)
    page.wait_for_url(f"{served.origin}/")


def patient_pages(page: Page, served: Served) -> list[str]:
    page.goto(served.origin)
    links = page.locator("table.ward tbody th a")
    return [links.nth(n).get_attribute("href") or "" for n in range(links.count())]


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


def test_from_a_new_log_to_printed_sheets(browser: Browser, tmp_path: Path) -> None:
    (tmp_path / "night.yaml").write_text(NIGHT)
    with serving(tmp_path) as served, browsers.tab(browser) as page:
        page.goto(served.address)
        page.wait_for_url("**/logs")
        page.get_by_label("night.yaml").check()
        page.get_by_role("button", name="Open what is ticked").click()
        page.get_by_role("link", name="Logs").click()
        page.get_by_role("link", name="Start a log for the next shift").click()
        expect(page.get_by_label("Starts")).to_have_value("2026-03-07T07:00")
        page.get_by_label("Name of the shift").fill("day")
        page.get_by_label("12B · Quist, Bram").uncheck()
        page.get_by_role("button", name="Start the log").click()
        expect(page.get_by_role("status")).to_contain_text("Started 2026-03-07-day.yaml")
        expect(page.get_by_text("day shift, 7 Mar 2026 07:00 to 7 Mar 19:00")).to_be_visible()

        page.get_by_role("link", name="Add a patient").click()
        for label, value in {
            "Id": "10500",
            "Name": "Ådal, Siv",
            "Born": "1960-01-02",
            "Bed": "13",
            "Order from": "2026-03-07 08:00",
            "Goal (mL)": "1400",
            "Breaths ordered": "10",
            "Every (h)": "1",
        }.items():
            page.get_by_label(label, exact=True).fill(value)
        page.get_by_role("button", name="Add the patient").click()
        expect(page.locator(".notice")).to_contain_text("Added bed 13")
        for _ in range(2):  # taken out, and put back
            page.get_by_role("button", name="Undo this").click()
            expect(page.locator(".notice")).to_contain_text("Undone in 2026-03-07-day.yaml")
        expect(page.locator("article.change")).to_have_count(3)
        page.get_by_role("link", name="Ward", exact=True).click()

        for time, volume in [("08:10", "1200"), ("09:10", "1400")]:
            page.get_by_role("link", name="Entry for 13, Ådal, Siv").click()
            page.get_by_label("Time").fill(time)
            page.get_by_label("Breaths").fill("10")
            page.get_by_label("Best volume mL").fill(volume)
            page.get_by_role("group", name="Symptoms").get_by_label("dizzy").check()
            page.get_by_role("button", name="Add the entry", exact=True).click()
            expect(page.get_by_role("status")).to_contain_text(
                f"Added. Bed 13, Ådal, Siv: 2026-03-07 {time}"
            )
            page.get_by_role("link", name="Ward", exact=True).click()
        expect(page.get_by_role("row", name="Ådal, Siv")).to_contain_text("1,400 mL (100 %)")

        page.get_by_role("link", name="Ådal, Siv", exact=True).click()
        expect(page.get_by_role("img", name=re.compile("volume in mL"))).to_be_visible()
        page.get_by_role("link", name="why Best").click()
        expect(page.locator("#why-volume pre")).to_be_visible()
        expect(page.locator("#why-volume pre")).to_contain_text("1400")

        page.get_by_role("link", name="Print", exact=True).click()
        page.get_by_role("button", name="Make the sheets").click()
        expect(page.get_by_role("link", name="All patient sheets")).to_be_focused()
        expect(page.get_by_role("link", name="Unit summary")).to_be_visible()
        page.get_by_role("link", name="Ward", exact=True).click()
        page.get_by_role("link", name="Print all sheets").click()
        page.wait_for_url("**/sheets/*.pdf")
        _, headers, printed = served.ask(page.url.removeprefix(served.origin))
        assert headers["Content-Type"] == "application/pdf"
        assert printed.startswith("%PDF")
        page.go_back()
        expect(page.get_by_role("heading", name="Harbour 3 East")).to_be_visible()
    assert (tmp_path / "night.yaml").read_text() == NIGHT
    assert len(read(str(tmp_path / "2026-03-07-day.yaml")).entries) == 3  # one is left blank


def test_a_bad_row_is_mended_in_place(browser: Browser, served: Served, tmp_path: Path) -> None:
    with browsers.tab(browser) as page:
        enter(page, served)
        page.get_by_role("link", name="Put right (1)").click()
        row = page.get_by_role("article").filter(has_text="night.yaml, line 16")
        cell = row.get_by_label("Best volume mL")
        expect(cell).to_have_value("25O0")
        expect(cell).to_have_attribute("aria-invalid", "true")
        with page.expect_response(lambda answer: answer.request.method == "POST"):
            cell.fill("25x0")
        (tmp_path / "night.yaml").write_text(NIGHT.replace("25O0", "26O0"))
        page.goto(served.origin)
        page.get_by_role("link", name="Go on with: ").click()
        kept = page.get_by_role("region", name="Typed and not saved")
        expect(kept).to_contain_text("has changed there since")
        expect(kept).to_contain_text("volume ml: 25x0")
        expect(cell).to_have_value("26O0")
        kept.get_by_role("button", name="Throw it away").click()
        (tmp_path / "night.yaml").write_text(NIGHT)
        page.goto(f"{served.origin}/put-right")
        cell.fill("25OO")
        row.get_by_role("button", name="Save in the log").click()
        expect(page.get_by_role("alert")).to_contain_text("Not written yet")
        cell.fill("2500")
        row.get_by_role("button", name="Save in the log").click()
        expect(page.get_by_role("status")).to_contain_text("Written to night.yaml")
        expect(page.get_by_role("link", name="Put right", exact=True)).to_be_visible()
    assert (tmp_path / "night.yaml").read_text() == NIGHT.replace("25O0", "2500")
    assert [path.read_text() for path in tmp_path.glob("*.before")] == [NIGHT]


def test_an_entry_by_keyboard_alone(browser: Browser, served: Served, tmp_path: Path) -> None:
    with browsers.tab(browser) as page:
        enter(page, served)
        page.goto(f"{served.origin}/entry")
        expect(page.get_by_label("Bed")).to_be_focused()
        # The second on the list; typing 12B finds it too, but only as fast as a person types.
        # Of the symptoms `none` comes first, then dizzy.
        keys = [
            "ArrowDown",
            "ArrowDown",
            "Tab",
            "Tab",
            *"10",
            "Tab",
            *"1350",
            *("Tab",) * 6,
            "Space",
        ]
        press(page, *keys, "Enter")
        # It is long after that shift: the desk asks, and the answer is one key too.
        expect(page.get_by_role("alert")).to_contain_text("Not written yet")
        expect(page.get_by_role("alert")).to_be_focused()
        page.get_by_label("Time").focus()
        press(page, "Control+A", *"21:30", "Enter")
        expect(page.get_by_role("status")).to_contain_text("exercise, 10 breaths, 1350 mL, dizzy")
        expect(page.get_by_label("Bed")).to_be_focused()
        assert len(keys) < 20
    added = (tmp_path / "night.yaml").read_text().removeprefix(NIGHT)
    assert added == (
        '- {patient: "00718", at: 21:30, breaths: 10, volume_ml: 1350, symptoms: [dizzy]}\n'
    )


def test_a_danger_is_told_and_measured_again_by_keyboard_alone(
    browser: Browser, tmp_path: Path
) -> None:
    found = "volume_ml: 1100, spo2: 84, on_oxygen: no, symptoms: [faint]}"
    (tmp_path / "night.yaml").write_text(NIGHT.replace("volume_ml: 1100}", found))
    with serving(tmp_path, "night.yaml") as served, browsers.tab(browser) as page:
        enter(page, served)
        page.get_by_role("link", name="Told of 12A").focus()
        press(page, "Enter")
        expect(page.get_by_role("checkbox", name="Low oxygen")).to_be_focused()
        # Nothing is ticked; one key ticks what was told.
        expect(page.get_by_role("checkbox", checked=True)).to_have_count(0)
        press(page, "Space", "Tab", "Tab", *"Quill")
        page.get_by_label("Time").focus()
        press(page, "Control+A", *"20:10", "Enter")
        expect(page.get_by_role("status")).to_contain_text("20:10, told")
        page.get_by_role("link", name="Larkspur, Odile", exact=True).focus()
        press(page, "Enter")
        page.get_by_role("link", name="Measured again (Low oxygen)").focus()
        press(page, "Enter")
        expect(page.get_by_label("SpO2 %")).to_be_focused()
        press(page, *"97", "Tab", "ArrowDown", "ArrowDown", "Shift+Tab", "Shift+Tab")
        press(page, "Control+A", *"21:10", "Enter")
        expect(page.get_by_role("status")).to_contain_text("21:10")
        expect(page.get_by_role("heading", name="Faint")).to_be_visible()
        page.get_by_role("link", name="Asked again (Faint)").focus()
        press(page, "Enter")
        expect(page.get_by_label("none", exact=True)).to_be_focused()
        press(page, "Space")
        page.get_by_label("Time").focus()
        press(page, "Control+A", *"21:20", "Enter")
        expect(page.get_by_role("status")).to_contain_text("21:20")
    rows = read(str(tmp_path / "night.yaml")).entries[2:]
    assert [dict(each.cells) for each in rows] == [
        {"patient_id": "10442", "at": "20:10", "what": "told", "about": "oxygen", "note": "Quill"},
        {"patient_id": "10442", "at": "21:10", "spo2": "97", "on_oxygen": "no"},
        {"patient_id": "10442", "at": "21:20", "symptoms": "none"},
    ]


def test_everything_is_reached_and_seen_by_the_tab_key(browser: Browser, standing: Served) -> None:
    with browsers.tab(browser) as page:
        enter(page, standing)
        patient = patient_pages(page, standing)[0]
        steps = [f"{patient}/told", f"{patient}/hold", f"{patient}/settled"]
        for path in ["/", "/entry", "/put-right", "/logs", patient, *steps]:
            page.goto(standing.origin + path)
            page.evaluate("document.activeElement.blur()")
            there = page.evaluate(
                "[...document.querySelectorAll('a[href], button, input:not([type=hidden]), select,"
                " textarea, summary')].filter(each => each.checkVisibility()).length"
            )
            reached = set()
            for _ in range(there + 10):
                page.keyboard.press("Tab")
                seen = page.evaluate(OUTLINED)
                if seen is None:  # past the last one; the next is the first again
                    continue
                assert seen["outline"] > 1, seen
                if seen["number"] >= 0:
                    reached.add(seen["number"])
            assert len(reached) == there, path


OUTLINED = """() => {
  const all = [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select,'
    + ' textarea, summary')].filter(each => each.checkVisibility());
  const at = document.activeElement;
  if (at === document.body || at === null) return null;
  const style = getComputedStyle(at);
  return {number: all.indexOf(at), tag: at.outerHTML.slice(0, 80),
          outline: style.outlineStyle === 'none' ? 0 : parseFloat(style.outlineWidth)};
}"""


def test_without_script_the_whole_job_is_done(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    with browsers.tab(browser, java_script_enabled=False) as page:
        enter(page, served)
        page.get_by_role("link", name="Add an entry").first.click()
        page.get_by_label("Bed").select_option(label="12A · Larkspur, Odile · id 10442")
        page.get_by_label("Time").fill("22:00")
        page.get_by_label("Breaths").fill("7")
        page.get_by_role("button", name="Add the entry").click()
        expect(page.get_by_role("status")).to_contain_text("Added. Bed 12A")
        page.get_by_role("link", name="Put right").click()
        page.get_by_label("Best volume mL").fill("2500")
        page.get_by_role("button", name="Save in a new copy").first.click()
        expect(page.get_by_role("status")).to_contain_text("night-corrected.yaml")
        page.get_by_role("link", name="Print", exact=True).click()
        page.get_by_role("button", name="Make the sheets").click()
        expect(page.get_by_text("sheet 2 of 2")).to_be_visible()
        link = page.get_by_role("link", name="All patient sheets").get_attribute("href")
        assert served.ask(link or "")[2].startswith("%PDF")
    added = NIGHT + '- {patient: "10442", at: 22:00, breaths: 7}\n'
    assert (tmp_path / "night.yaml").read_text() == added
    corrected = (tmp_path / "night-corrected.yaml").read_text()
    assert corrected == added.replace("25O0", "2500")


def test_two_tabs_see_each_others_rows(browser: Browser, served: Served, tmp_path: Path) -> None:
    with browsers.tab(browser) as one:
        enter(one, served)
        one.goto(f"{served.origin}/entry")
        two = one.context.new_page()
        two.goto(f"{served.origin}/put-right")
        one.get_by_label("Bed").select_option(label="12A · Larkspur, Odile · id 10442")
        one.get_by_label("Time").fill("22:00")
        one.get_by_label("Breaths").fill("7")
        one.get_by_role("button", name="Add the entry").dblclick()
        expect(one.get_by_role("status")).to_contain_text("Added.")
        row = two.get_by_role("article").filter(has_text="night.yaml, line 16")
        row.get_by_label("Best volume mL").fill("2500")
        row.get_by_role("button", name="Save in the log").click()
        expect(two.get_by_role("status")).to_contain_text("Written to night.yaml")
    added = '- {patient: "10442", at: 22:00, breaths: 7}\n'
    assert (tmp_path / "night.yaml").read_text() == NIGHT.replace("25O0", "2500") + added


def test_when_the_desk_is_gone_what_was_typed_is_still_there(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    with browsers.tab(browser) as page:
        enter(page, served)
        page.goto(f"{served.origin}/entry")
        page.get_by_label("Bed").select_option(label="12A · Larkspur, Odile · id 10442")
        page.get_by_label("Note").fill("sat up")
        served.kill()
        page.get_by_role("button", name="Add the entry").click()
        expect(page.get_by_role("alert")).to_contain_text("nothing was written")
        expect(page.get_by_label("Note")).to_have_value("sat up")
    assert (tmp_path / "night.yaml").read_text() == NIGHT


def type_a_note(page: Page, note: str) -> None:
    """Type into a form, and wait until the desk has kept it."""
    with page.expect_response("**/drafts"):
        page.get_by_label("Note").fill(note)


SLOW_DRAFTS = """
const send = window.fetch;
const typed = new Promise((go) => addEventListener("input", () => setTimeout(go, 100)));
window.fetch = async (to, how) => {
  if (to === "/drafts" && how?.method !== "POST") await typed;
  return send(to, how);
};
"""


def test_who_types_before_the_drafts_are_there_leaves_none_behind(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    one, _other = served.beds()
    with browsers.tab(browser) as page:
        enter(page, served)
        page.goto(f"{served.origin}/entry?bed={one}")
        page.get_by_label("Time").fill("21:00")
        page.get_by_label("Breaths").fill("many")
        expect(page.locator("form[data-draft]")).to_have_count(1)
        page.add_init_script(SLOW_DRAFTS)
        page.get_by_role("button", name="Add the entry").click()
        expect(page.get_by_role("alert")).to_contain_text("Not written yet")
        with page.expect_response(lambda answer: answer.request.method == "POST"):
            page.get_by_label("Breaths").fill("7")  # and it is kept
        page.get_by_role("button", name="Add the entry").click()
        expect(page.get_by_role("status")).to_contain_text("Added. Bed 12A")
    assert list(tmp_path.glob(".handoff-drafts*")) == []


def test_what_was_typed_is_put_back_after_leaving_and_after_the_desk_was_killed(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    one, other = served.beds()
    with browsers.tab(browser) as page:
        enter(page, served)
        page.goto(f"{served.origin}/entry?bed={one}")
        page.get_by_text("More: pain").click()
        page.get_by_label("Pain 0 to 10").fill("3")
        page.get_by_role("group", name="Symptoms").get_by_label("dizzy").check()
        type_a_note(page, "sat up")
        for path in ("/", f"/entry?bed={other}"):
            page.goto(served.origin + path)
            kept = page.get_by_role("region", name="Typed and not saved")
            expect(kept).to_contain_text("Add an entry: 12A · Larkspur, Odile · id 10442, typed 2")
        expect(page.get_by_label("Note")).to_have_value("")  # the form of somebody else
        assert browsers.violations(page) == []
        page.get_by_role("link", name="Go on with: Add an entry").click()
        expect(page.get_by_label("Note")).to_have_value("sat up")
        expect(page.get_by_label("Pain 0 to 10")).to_be_visible()
        served.kill()
        page.get_by_label("Note").fill("sat up twice")
        expect(page.get_by_role("alert")).to_contain_text("nothing was written")
        with serving(tmp_path, "night.yaml", "--port", str(served.port)) as again:
            page.get_by_role("button", name="Add the entry").click()
            expect(page.get_by_role("alert")).to_contain_text("Open it by its new address")
            expect(page.get_by_label("Note")).to_have_value("sat up twice")
            new = page.context.new_page()
            enter(new, again)
            new.get_by_role("link", name="Go on with: Add an entry").click()
            expect(new.get_by_label("Note")).to_have_value("sat up")
            expect(new.get_by_label("Bed", exact=True)).to_have_value(one)
            expect(new.get_by_label("Pain 0 to 10")).to_have_value("3")
            dizzy = new.get_by_role("group", name="Symptoms").get_by_label("dizzy")
            expect(dizzy).to_be_checked()
            new.get_by_label("Time").fill("21:00")
            new.get_by_label("Breaths").fill("many")
            new.get_by_role("button", name="Add the entry").click()
            expect(new.get_by_role("alert")).to_contain_text("Not written yet")
            new.get_by_label("Breaths").fill("7")
            new.get_by_role("button", name="Add the entry").click()
            expect(new.get_by_role("status")).to_contain_text("Added. Bed 12A")
            expect(new.get_by_role("region", name="Typed and not saved")).to_have_count(0)
            assert list(tmp_path.glob(".handoff-drafts*")) == []
            type_a_note(new, "for nobody yet")
            new.goto(f"{again.origin}/")
            new.get_by_role("button", name="Throw it away (Add an entry").click()
            expect(new.get_by_role("status")).to_contain_text("thrown away")
            expect(new.get_by_role("region", name="Typed and not saved")).to_have_count(0)
    assert (tmp_path / "night.yaml").read_text() == NIGHT + (
        '- {patient: "10442", at: 21:00, breaths: 7, pain: 3, symptoms: [dizzy], note: "sat up"}\n'
    )


def test_files_are_dropped_on_the_page(browser: Browser, served: Served, tmp_path: Path) -> None:
    with browsers.tab(browser) as page:
        enter(page, served)
        page.goto(f"{served.origin}/logs")
        file: Any = {"name": "evening.csv", "mimeType": "text/csv", "buffer": EVENING_CSV.encode()}
        page.get_by_label("Choose files, or drop them here").set_input_files(file)
        page.get_by_role("button", name="Add and open").click()
        expect(page.get_by_role("status")).to_contain_text("Opened evening.csv")
    assert (tmp_path / "evening.csv").read_bytes() == EVENING_CSV.encode()


def test_a_page_of_another_site_can_do_nothing(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    with browsers.tab(browser) as page:
        enter(page, served)
        form = (
            f"<form id=f method=post action='{served.origin}/entry'><input name=bed value=x></form>"
            f"<script>document.getElementById('f').submit()</script>"
        )
        page.context.route(
            "http://127.0.0.1:1/", lambda route: route.fulfill(body=form, content_type="text/html")
        )
        with page.expect_response(f"{served.origin}/entry") as answer:
            page.goto("http://127.0.0.1:1/")
        assert answer.value.status in {401, 403}
        stranger = page.context.browser.new_context() if page.context.browser else None
        assert stranger
        answered = stranger.new_page().goto(served.origin)
        assert answered
        assert answered.status == 401
        stranger.close()
    assert (tmp_path / "night.yaml").read_text() == NIGHT


def test_another_name_of_this_machine_is_refused(browser: Browser, standing: Served) -> None:
    context = browser.new_context()
    page = context.new_page()
    enter(page, standing)
    for path in ("/", f"/{standing.address.rpartition('/')[2]}"):
        answered = page.goto(f"http://{browsers.REBOUND}:{standing.port}{path}")
        assert answered
        assert answered.status == 421
        assert "Larkspur" not in page.content()
    context.close()


def dark_parts(page: Page, *, backgrounds: bool) -> tuple[int, str]:
    """How many dots of a printed page are black, and its words."""
    document = pypdfium2.PdfDocument(page.pdf(print_background=backgrounds, format="A4"))
    pages = [document[number] for number in range(len(document))]
    black = sum(int((each.render(scale=1).to_numpy().max(axis=2) < 60).sum()) for each in pages)
    return black, " ".join(each.get_textpage().get_text_range() for each in pages)


def test_a_printed_page_is_as_black_without_backgrounds_and_the_pdf_is_offered_first(
    browser: Browser, standing: Served
) -> None:
    with browsers.tab(browser) as page:
        enter(page, standing)
        patient = patient_pages(page, standing)[0]
        for path, pdf in (("/", "/sheets?show=all"), (patient, f"{patient}/sheet.pdf")):
            page.goto(standing.origin + path)
            page.emulate_media(color_scheme="dark")
            black, words = dark_parts(page, backgrounds=False)
            with_backgrounds, _ = dark_parts(page, backgrounds=True)
            assert abs(black - with_backgrounds) < 0.02 * black
            assert "A page of the screen" in words
            for pressed in ("Add an entry", "Print", "Told", "Undo", "why"):
                assert pressed not in words.replace("under Print.", "").split("Larkspur")[0]
            press(page, "Control+p")
            offered = page.get_by_role("dialog", name="Print the sheet, or this page?")
            expect(offered.get_by_role("link", name="The PDF")).to_be_focused()
            assert offered.get_by_role("link").get_attribute("href") == standing.origin + pdf
            assert browsers.violations(page) == []
            offered.get_by_role("button", name="Neither").click()
            expect(offered).to_be_hidden()


def test_no_cell_of_the_ward_is_printed_over_the_next(browser: Browser, standing: Served) -> None:
    with browsers.tab(browser) as page:
        enter(page, standing)
        expect(page.locator("td.best").first).to_contain_text("at least 1,100 mL (at least 73 %)")
        for size in (browsers.WIDE, browsers.TABLET):
            page.set_viewport_size(size)
            too_wide = page.evaluate(
                "[...document.querySelectorAll('table.ward .line > *')]"
                ".filter(cell => cell.scrollWidth > cell.clientWidth)"
                ".map(cell => cell.innerText)"
            )
            assert too_wide == [], size
        page.goto(f"{standing.origin}/patients/new")
        sizes = (
            "[...document.querySelectorAll('.cells label')]"
            ".map(label => getComputedStyle(label).fontSize)"
        )
        assert len(set(page.evaluate(sizes))) == 1


def test_on_a_telephone_no_button_covers_a_number_and_the_chart_shows_its_newest_end(
    browser: Browser, standing: Served
) -> None:
    with browsers.tab(browser, viewport={"width": 390, "height": 844}) as page:
        enter(page, standing)
        patient = patient_pages(page, standing)[0]
        boxes = page.evaluate(
            "[...document.querySelectorAll('table.ward .line')].map(row => [...row.cells]"
            ".filter(each => each.checkVisibility()).map(each => [...each.querySelectorAll('*')]"
            ".concat(each).map(part => part.getBoundingClientRect().toJSON())))"
        )
        for row in boxes:
            for number, cell in enumerate(row):
                others = [box for other in row[number + 1 :] for box in other]
                assert not [1 for one in cell for other in others if overlap(one, other)]
        page.goto(standing.origin + patient)
        hidden = page.evaluate(
            "(() => { const wide = document.querySelector('.chart').parentElement;"
            " return [wide.scrollWidth - wide.clientWidth, wide.scrollLeft]; })()"
        )
        assert hidden[0] > 100
        assert abs(hidden[0] - hidden[1]) <= 1


def overlap(one: dict[str, float], other: dict[str, float]) -> bool:
    """Whether two boxes have more than a dot in common."""
    width = min(one["right"], other["right"]) - max(one["left"], other["left"])
    height = min(one["bottom"], other["bottom"]) - max(one["top"], other["top"])
    return width > 1 and height > 1


class Recorder(BaseHTTPRequestHandler):
    """Another program's server on this machine: it keeps the headers that browsers send it."""

    received: ClassVar[list[str]] = []
    page = b""

    def do_GET(self) -> None:
        self.received.append(str(self.headers))
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(self.page)

    def log_message(self, *_: object) -> None:
        pass


def test_a_second_server_of_this_machine_gets_no_cookie_and_reads_and_writes_nothing(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    desk = f"http://127.0.0.1:{served.port}"
    Recorder.page = f"""<form id=f method=post action='{desk}/entry'><input name=bed></form><script>
        fetch("{desk}/", {{credentials: "include"}}).then(read => read.text())
          .catch(() => "refused").then(text => document.title = text)</script>""".encode()
    with HTTPServer(("127.0.0.1", 0), Recorder) as other, browsers.tab(browser) as page:
        Thread(target=other.serve_forever, daemon=True).start()
        enter(page, served)
        for name in ("127.0.0.1", "localhost", "other.localhost"):
            page.goto(f"http://{name}:{other.server_port}/")
            expect(page).to_have_title("refused")
        with page.expect_response(f"{desk}/entry") as written:
            page.evaluate("document.getElementById('f').submit()")
        assert written.value.status == 421
        other.shutdown()
    received = "".join(Recorder.received)
    assert len(Recorder.received) >= 3
    assert "Cookie" not in received
    assert served.host not in received
    assert served.ask("/", Host=f"127.0.0.1:{served.port}")[0] == 421
    assert (tmp_path / "night.yaml").read_text() == NIGHT


USUAL = {"color_scheme": "light", "forced_colors": "none", "reduced_motion": "no-preference"}
# The third is what is new in a look: forced colours move nothing and replace every colour, a
# narrow page has no others. Whether a page is too wide is asked in every look.
LOOKS: dict[str, tuple[Any, dict[str, Any], str]] = {
    "wide": (browsers.WIDE, {}, "all"),
    "tablet in a dark room": (browsers.TABLET, {"color_scheme": "dark"}, "colours"),
    "high contrast": (
        *(browsers.WIDE, {"forced_colors": "active", "reduced_motion": "reduce"}),
        "all the same",
    ),
    "narrow, as at 400 %": (browsers.NARROW, {}, "all the same"),
}


@pytest.mark.long
def test_axe_finds_nothing_on_any_page_however_it_looks(browser: Browser, standing: Served) -> None:
    with browsers.tab(browser) as page:
        enter(page, standing)
        patient, held = patient_pages(page, standing)
        page.goto(standing.origin + patient)
        again = page.get_by_role("link", name="again")
        looked = [again.nth(n).get_attribute("href") or "" for n in range(again.count())]
        assert len(looked) == 2
        of_one = [f"{patient}/{name}" for name in ("facts", "told", "hold", "settled", "left")]
        wrong = {}
        for path in (*PAGES, patient, *of_one, *looked, held, f"{held}/resume"):
            page.goto(standing.origin + path)
            page.evaluate(
                "for (const each of document.querySelectorAll('details')) each.open = true"
            )
            for look, (size, media, of) in LOOKS.items():
                page.set_viewport_size(size)
                page.emulate_media(**{**USUAL, **media})
                if found := browsers.violations(page, of):
                    wrong[path, look] = found
                wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
                assert wide <= 0, f"{path} is {wide} too wide, {look}"
        assert wrong == {}


def test_forms_with_something_wrong_are_told_to_everybody(
    browser: Browser, standing: Served
) -> None:
    with browsers.tab(browser) as page:
        enter(page, standing)
        page.goto(f"{standing.origin}/entry")
        page.get_by_label("Bed").select_option(label="12A · Larkspur, Odile · id 10442")
        page.get_by_label("Breaths").fill("many")
        page.get_by_role("button", name="Add the entry").click()
        expect(page.get_by_role("alert")).to_be_focused()
        expect(page.get_by_label("Breaths")).to_have_attribute("aria-invalid", "true")
        assert browsers.violations(page) == []
        page.goto(f"{standing.origin}/logs")
        page.go_back()  # the browser does not ask whether to send it again
        expect(page.get_by_role("alert")).to_contain_text("Not written yet")
        assert not re.search(r"Traceback|Error:", page.content())
