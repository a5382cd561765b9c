"""Decides which requests the desk answers, and sets the headers of every response.

Input: requests. Output: a refusal, or nothing; headers. The desk listens on this machine alone. Yet
any page in the browser, and any other program, could send it requests. Therefore the host must be
the desk's own, and no other name of this machine. A request may not come from another site. Each
request needs a cookie, which only the opening address gives, and each form a key as well.

A browser sends a cookie to every port of a host, thus also to another program's server. Therefore
each run has a host of its own that nobody can guess: a random name that ends in `.localhost`, which
browsers take to this machine without asking anybody (RFC 6761, section 6.3). The address that is
printed, or that a browser is started with, does not have the name, because other users of the
machine can see how a program was started: it is at 127.0.0.1, where nothing but the way to the
name is served.
"""

import hmac
import secrets

from flask import Flask, Request, Response, abort, request
from msgspec import field

from handoff.desk.edits.logbook import MOST_BYTES
from handoff.model.frozen import Frozen

LOOPBACK = "127.0.0.1"
MOST_FILES_BYTES = 2 * MOST_BYTES  # of one request: several logs may be dropped at once
FORM_KEY = "form_key"
COOKIE = "handoff-desk"
WAY = "opening"  # the only endpoint at 127.0.0.1
OPEN_TO_ALL = frozenset({"static", "font", "entering"})
FROM_HERE = frozenset({"same-origin", "none"})

POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; font-src 'self'; img-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
# A browser shows a PDF in a page of its own, with an object and a style.
PDF_POLICY = (
    "default-src 'none'; object-src 'self'; style-src 'unsafe-inline'; frame-ancestors 'none'"
)

HEADERS = {
    "Content-Security-Policy": POLICY,
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    # Not `no-referrer`: the browser would also hide the origin of a form.
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}


def _new_key() -> str:
    return secrets.token_urlsafe(32)


def _add_key(keys: set[str]) -> str:
    """A new key, added to these."""
    key = _new_key()
    keys.add(key)
    return key


class Gate(Frozen):
    """The host and the keys of one run."""

    port: int
    name: str = field(default_factory=lambda: f"{secrets.token_hex(16)}.localhost")
    opening_key: str = field(default_factory=_new_key)
    session: str = field(default_factory=_new_key)
    form_key: str = field(default_factory=_new_key)
    once: set[str] = field(default_factory=set)  # keys that open the way, each once
    entering: set[str] = field(default_factory=set)  # keys at the way's end, each good once

    @property
    def host(self) -> str:
        """The only host that serves pages."""
        return f"{self.name}:{self.port}"

    @property
    def origin(self) -> str:
        """Where forms may come from."""
        return f"http://{self.host}"

    @property
    def way_host(self) -> str:
        """The host of the addresses that open the desk."""
        return f"{LOOPBACK}:{self.port}"

    @property
    def address(self) -> str:
        """The address that opens the desk, any number of times."""
        return f"http://{self.way_host}/open?key={self.opening_key}"

    def address_once(self) -> str:
        """An address that opens the desk once: other users can see how a browser was started."""
        return f"http://{self.way_host}/open?key={_add_key(self.once)}"

    def way(self, key: str) -> str | None:
        """Where the address with this key leads, once; None for any other key."""
        if key not in self.once and not _same(key, self.opening_key):
            return None
        self.once.discard(key)
        return f"{self.origin}/enter?key={_add_key(self.entering)}"

    def enters(self, key: str) -> bool:
        """Whether this key is of the way, and was not used yet."""
        known = key in self.entering
        self.entering.discard(key)
        return known

    def admit(self, response: Response) -> None:
        """Give the browser the cookie. Not `Secure`: a loopback address has no certificate."""
        response.set_cookie(COOKIE, self.session, httponly=True, samesite="Strict", path="/")

    def refusal(self, received: Request) -> int | None:
        """The HTTP status that refuses a request; None where it may be answered."""
        is_form = received.method not in {"GET", "HEAD"}
        wanted_host = self.way_host if received.endpoint == WAY else self.host
        if received.headers.get("Host") != wanted_host:
            return 421
        if received.endpoint == WAY and not is_form:
            return None
        if received.endpoint in OPEN_TO_ALL and not is_form:
            return None
        if received.headers.get("Sec-Fetch-Site", "none") not in FROM_HERE:
            return 403
        if not _same(received.cookies.get(COOKIE, ""), self.session):
            return 401
        # The form is checked last: reading it stores uploaded files.
        is_own = not is_form or (
            received.headers.get("Origin") == self.origin
            and _same(received.form.get(FORM_KEY, ""), self.form_key)
        )
        return None if is_own else 403


def guard(app: Flask, gate: Gate) -> None:
    """Put the gate before every page, and the headers on every response."""
    app.config["MAX_CONTENT_LENGTH"] = MOST_FILES_BYTES

    @app.before_request
    def refuse() -> None:
        status = gate.refusal(request)
        if status:
            abort(status)

    @app.after_request
    def add_headers(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        if request.endpoint not in {"static", "font"} or response.status_code >= 400:  # noqa: PLR2004
            response.headers["Cache-Control"] = "no-store"
        return response


def _same(given: str, wanted: str) -> bool:
    return hmac.compare_digest(given.encode(), wanted.encode())
