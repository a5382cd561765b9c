"""A real browser for the tests: Debian's Chromium, which talks to this machine alone."""

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Browser, Page, Request, sync_playwright

from tests.support.how_many import few

CHROMIUM = shutil.which("chromium")
# A browser's own pages are no http.
ELSEWHERE = re.compile(r"^(https?|wss?)://(?!(127\.0\.0\.1|([0-9a-z]+\.)?localhost):)")
REBOUND = "rebound.test"  # a name that somebody has made lead to this machine
HERE = "EXCLUDE 127.0.0.1, EXCLUDE localhost, EXCLUDE *.localhost"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    f"--host-resolver-rules=MAP {REBOUND} 127.0.0.1, MAP * ~NOTFOUND, {HERE}",
]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
OF_COLOURS = ["color-contrast", "link-in-text-block"]
WIDE, TABLET, NARROW = (
    {"width": w, "height": h} for w, h in ((1280, 900), (768, 1024), (320, 640))
)


@contextmanager
def chromium() -> Iterator[Browser]:
    """The browser, with a new profile that is thrown away."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def tab(browser: Browser, **options: Any) -> Iterator[Page]:
    """A page of a browser that knows of no desk; every request that leaves this machine fails, and
    then the test too. Pages without options of their own share a profile: making one takes longer
    than most of what is done there. A desk leaves cookies in it, which are deleted, and what it
    keeps under its own name, which no other desk has.
    """
    shared = None if options else next(iter(browser.contexts), None)
    context = shared or browser.new_context(**{"viewport": WIDE, **options})
    elsewhere: list[str] = []

    def note(request: Request) -> None:
        if ELSEWHERE.match(request.url):
            elsewhere.append(request.url)

    context.on("request", note)
    page = context.new_page()
    try:
        yield page
        assert not elsewhere, elsewhere
    finally:
        context.remove_listener("request", note)
        if options:
            context.close()
        else:
            context.unroute_all()
            context.clear_cookies()
            for each in context.pages:
                each.close()


def violations(page: Page, of: str = "all") -> list[str]:
    """What axe-core finds wrong with a page, and where; `of` its colours alone where the rest was
    looked at before and has not changed, or nothing where it is `all the same`. Many examples
    (`few`) look at all of it in every look.
    """
    if of == "all the same" and few(1) == 1:
        return []
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    options: dict[str, Any] = {"runOnly": RULES, "resultTypes": ["violations"]}
    if of == "colours" and few(1) == 1:
        options["runOnly"] = {"type": "rule", "values": OF_COLOURS}
    found = page.evaluate("async options => (await axe.run(options)).violations", options)
    return [f"{each['id']}: {node['html'][:200]}" for each in found for node in each["nodes"]]
