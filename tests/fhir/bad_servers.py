"""Servers that do not do what they should, and the one finding that each gives."""

import json
import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import pytest

from handoff.fhir.client import Client, read_token
from handoff.fhir.codes import load_codes
from handoff.fhir.get import fetch
from handoff.model.findings import Finding
from handoff.model.refused import Refused
from tests.fhir.record import CAPABILITIES, Asked, Handler, Record, serving
from tests.support.builders import SHIFT

FHIR = "application/fhir+json"
TOKEN = "t0ken"  # noqa: S105 - of no server
# Of this machine, by its address 127.0.0.1, until 2120, with its key; signed by nobody but itself.
CERTIFICATE = Path(__file__).with_name("this_machine.pem")
Before = Callable[[Handler, Asked], bool]


def gives(content: bytes | str, kind: str = FHIR, status: int = 200, **headers: str) -> Before:
    """Answers everything like this."""

    def before(handler: Handler, _asked: Asked) -> bool:
        body = content.encode() if isinstance(content, str) else content
        handler.give(status, body, kind, **headers)
        return True

    return before


def outcome(why: str) -> str:
    return (
        '{"resourceType": "OperationOutcome", "issue": '
        f'[{{"severity": "error", "code": "processing", "diagnostics": "{why}"}}]}}'
    )


def page(*entries: str, next_page: str | None = None) -> str:
    link = f'"link": [{{"relation": "next", "url": "{next_page}"}}],' if next_page else ""
    resources = ", ".join(f'{{"resource": {each}}}' for each in entries)
    return f'{{"resourceType": "Bundle", "type": "searchset", {link} "entry": [{resources}]}}'


def endless(handler: Handler, asked: Asked) -> bool:
    """Each page has another one after it."""
    number = int(dict(asked.query).get("page", "0")) + 1
    target = f"{handler.record.base}/Location?page={number}"
    return gives(page(next_page=target))(handler, asked)


def in_a_ring(handler: Handler, asked: Asked) -> bool:
    return gives(page(next_page=f"{handler.record.base}/Location?page=1"))(handler, asked)


def foreign(target: str) -> Before:
    def before(handler: Handler, asked: Asked) -> bool:
        here = handler.record.base
        return gives(page(next_page=target.replace("BASE", here)))(handler, asked)

    return before


def torn(handler: Handler, _asked: Asked) -> bool:
    """Half of what was promised."""
    handler.send_response(200)
    handler.send_header("Content-Type", FHIR)
    handler.send_header("Content-Length", "1000")
    handler.end_headers()
    handler.wfile.write(b'{"resourceType":')
    handler.tear()
    return True


def silent(handler: Handler, _asked: Asked) -> bool:
    time.sleep(0.5)
    handler.tear()
    return True


DRIPS = 200  # ten seconds of them


def dripping(handler: Handler, _asked: Asked) -> bool:
    """A byte at a time, of the content."""
    handler.send_response(200)
    handler.send_header("Content-Type", FHIR)
    handler.end_headers()
    with suppress(OSError):
        for handler.record.dripped in range(1, DRIPS + 1):
            handler.wfile.write(b" ")
            time.sleep(0.05)
    return True


def dripping_headers(handler: Handler, _asked: Asked) -> bool:
    """A byte at a time, of a header that does not end."""
    handler.send_response(200)
    handler.flush_headers()
    with suppress(OSError):
        for handler.record.dripped in range(1, DRIPS + 1):
            handler.wfile.write(b"X")
            time.sleep(0.05)
    return True


def flooding(handler: Handler, _asked: Asked) -> bool:
    """Never ends, and says nothing of its length."""
    handler.send_response(200)
    handler.send_header("Content-Type", FHIR)
    handler.end_headers()
    with suppress(OSError):
        for _ in range(10_000):
            handler.wfile.write(b'{"a": [' + b" " * 65_536)
    return True


def says(content: bytes) -> Before:
    """Sends this, which is no HTTP, or not as it has to be."""

    def before(handler: Handler, _asked: Asked) -> bool:
        handler.wfile.write(content)
        handler.tear()
        return True

    return before


CHUNKED = (
    b"HTTP/1.1 200 OK\r\nContent-Type: application/fhir+json\r\nTransfer-Encoding: chunked\r\n\r\n"
)
NAN = '{"resourceType": "Location", "id": "w", "position": {"latitude": NaN}}'
XML = '<?xml version="1.0"?><Location xmlns="http://hl7.org/fhir"/>'
HTML = "<!DOCTYPE html><title>Log in</title>"
HISTORY = '{"resourceType": "Bundle", "type": "history", "entry": []}'
OTHER = '{"resourceType": "Patient", "id": "7"}'
NESTED = '{"resourceType": "Location", "a": ' + "[" * 100_000 + "]" * 100_000 + "}"
ZIPPED = b"\x1f\x8b\x08\x00"


@dataclass(frozen=True)
class BadServer:
    """How it behaves, and the code and the quoted text of its finding."""

    name: str
    before: Before
    code: str
    raw: str | None = None
    searched: bool = True


ELSEWHERE = "https://127.0.0.9/fhir/Location?token=secret"
BAD_SERVERS = [
    BadServer("torn", torn, "server-not-reached"),
    BadServer("no-http", says(b"220 mail.example\r\n"), "server-not-reached"),
    BadServer("chunks", says(CHUNKED + b"zz\r\n{}"), "server-not-reached"),
    BadServer("chunk-torn", says(CHUNKED + b"20\r\n{}"), "server-not-reached"),
    BadServer("silent", silent, "server-not-reached"),
    BadServer(
        "redirect",
        gives("", status=302, Location=ELSEWHERE),
        "server-redirects",
        "127.0.0.9",
    ),
    BadServer(
        "moved-here", gives("", status=308, Location="/fhir/L"), "server-redirects", "127.0.0.1"
    ),
    BadServer("login", gives(HTML, "text/html", 401), "server-login"),
    BadServer("login-page", gives(HTML, "text/html"), "server-not-json", "text/html"),
    BadServer("forbidden", gives(outcome("no scope"), status=403), "server-forbids", "no scope"),
    BadServer("busy", gives(outcome("slow down"), status=429), "server-busy", "slow down"),
    BadServer("down", gives(HTML, "text/html", 503), "server-busy"),
    BadServer("gone", gives(outcome("was deleted"), status=410), "server-not-found", "was deleted"),
    BadServer("not-there", gives("", "text/plain", 404), "server-not-found"),
    BadServer("fault", gives(HTML, "text/html", 500), "server-refuses"),
    BadServer(
        "markup", gives(outcome("<b>\\u202e\\u0007"), status=400), "server-refuses", "<b>\u202e\a"
    ),
    BadServer("xml", gives(XML, "application/fhir+xml"), "server-not-json", "application/fhir+xml"),
    BadServer("zipped", gives(ZIPPED, Content_Encoding="gzip"), "server-not-json", FHIR),
    BadServer("empty", gives(""), "server-not-json"),
    BadServer("nan", gives(NAN), "fhir-json-constant", "NaN"),
    BadServer("nested", gives(NESTED), "fhir-nesting"),
    BadServer("twice", gives('{"a": 1, "a": 2}'), "fhir-repeated-name", "a"),
    BadServer("latin", gives(b'{"a": "\xe9"}'), "fhir-json"),
    BadServer("list", gives("[]"), "server-not-json"),
    BadServer("history", gives(HISTORY), "server-other-answer"),
    BadServer("other", gives(page(OTHER)), "server-other-answer"),
    BadServer("other-read", gives(OTHER), "server-other-answer", searched=False),
    BadServer("no-address", gives("", status=301, Location="http://["), "server-redirects", ""),
    BadServer("next-is-none", foreign("http://["), "server-foreign-page", ""),
    BadServer("next-breaks", foreign("BASE/L\\r\\nX: y"), "server-not-reached"),
    BadServer("next-letters", foreign("BASE/L?é"), "server-not-reached"),
    BadServer(
        "odd-id", gives(page('{"resourceType": "Location", "id": "../x"}')), "server-other-answer"
    ),
    BadServer("no-id", gives(page('{"resourceType": "Location"}')), "server-other-answer"),
    BadServer("warned", gives(page(outcome("half is lost"))), "server-refuses", "half is lost"),
    BadServer("flood", flooding, "server-floods"),
    BadServer("endless", endless, "server-endless-pages"),
    BadServer("ring", in_a_ring, "server-endless-pages"),
    BadServer("foreign", foreign(ELSEWHERE), "server-foreign-page", "127.0.0.9"),
    BadServer(
        "other-port",
        foreign("http://127.0.0.1:1/fhir/Location"),
        "server-foreign-page",
        "127.0.0.1",
    ),
    BadServer("beside", foreign("BASE-other/Location"), "server-foreign-page", "127.0.0.1"),
    BadServer("above", foreign("BASE/../x/Location"), "server-foreign-page", "127.0.0.1"),
    BadServer("user", foreign("BASE@127.0.0.9/Location"), "server-foreign-page", "127.0.0.1"),
]


# Of what is named to reach a server; those of servers themselves stand above.
NAMED_CODES = (
    *(
        "get-nobody",
        "server-address",
        "server-not-encrypted",
        "server-certificate",
        "server-release",
    ),
    *("token-unreadable", "token-not-private", "token-not-one", "certificate-unreadable"),
)
SERVER_CODES = (
    *NAMED_CODES,
    *dict.fromkeys(bad.code for bad in BAD_SERVERS if bad.code.startswith("server-")),
)


def capabilities(**changed: object) -> Before:
    return gives(json.dumps({**CAPABILITIES, **changed}))


# What a server says of itself, and whether it is to be written to.
NO_RELEASES: list[tuple[Before, bool]] = [
    (capabilities(fhirVersion="5.0.0"), False),
    (capabilities(fhirVersion="3.0.2"), False),
    (capabilities(fhirVersion=None), False),
    (capabilities(fhirVersion="4.1.0"), False),
    (capabilities(format=["xml", "application/fhir+xml"]), False),
    (capabilities(format=None), False),
    (capabilities(rest=[]), True),
    (capabilities(rest=[{"mode": "server", "interaction": [{"code": "batch"}]}]), True),
    (capabilities(rest=[{"mode": "client", "interaction": [{"code": "transaction"}]}]), True),
]


def release_found(before: Before, *, writes: bool) -> Finding:
    with serving(Record(before=before)) as base:
        return refusal(lambda: Client(base).check_release(writes=writes))


def nobody() -> None:
    """Gets a ward that is there and has nobody."""
    record = Record()
    record.put({"resourceType": "Location", "id": "w"})
    codes, _ = load_codes()
    assert codes
    with serving(record) as base:
        fetch(Client(base), codes, "Location/w", [SHIFT])


def found_of_servers(folder: Path) -> dict[str, Finding]:
    """One finding of each code that a server, or what names it, can have."""
    behaving = {bad.code: bad for bad in reversed(BAD_SERVERS)}
    return {
        **dict(found_of_what_is_named(folder)),
        **{code: found_at(bad)[0] for code, bad in behaving.items() if code in SERVER_CODES},
        "server-release": release_found(NO_RELEASES[0][0], writes=False),
        "get-nobody": refusal(nobody),
    }


def refusal(of: Callable[[], object]) -> Finding:
    """The finding that a call is refused with."""
    with pytest.raises(Refused) as refused:
        of()
    assert isinstance(refused.value.why, Finding)
    return refused.value.why


def ask(base: str, *, searched: bool = True, **options: object) -> object:
    """One search, or one read, of a client that gives up early."""
    client = Client(base, **{"silent_s": 0.3, "left_bytes": 10**6, **options})  # type: ignore[arg-type]
    return list(client.search("Location", [])) if searched else client.read("Location/w")


def found_at(bad: BadServer) -> tuple[Finding, Record]:
    """What is found of a bad server that was asked with a token, and what it was asked."""
    record = Record(before=bad.before)
    with serving(record) as base:
        return refusal(partial(ask, base, searched=bad.searched, token=TOKEN)), record


def found_of_what_is_named(folder: Path) -> Iterator[tuple[str, Finding]]:
    """What is found of addresses, tokens and certificates that cannot be used, by code."""
    for base in (
        "record.example/fhir",
        "https://a:b@record.example/fhir",
        "https://record.example/fhir?key=1",
        "https:///fhir",
        "ftp://127.0.0.1/fhir",
        "https://[::1/fhir",
        "https://record.example:port/fhir",
        "https://record.example/f hir",
        "https://record.example/\r\nX: y",
    ):
        yield "server-address", refusal(partial(Client, base))
    for base in ("http://record.example/fhir", "http://10.0.0.1", "http://127.0.0.1.example"):
        yield "server-not-encrypted", refusal(partial(Client, base))
    token = folder / "token"
    yield "token-unreadable", refusal(partial(read_token, str(token)))
    yield "token-unreadable", refusal(partial(read_token, "a\0b"))
    for content in ("", "two words", "two\nlines", "é", "x" * 20_000):
        token.write_text(content, encoding="utf-8")
        token.chmod(0o600)
        yield "token-not-one", refusal(partial(read_token, str(token)))
    if sys.platform != "win32":  # whose modes say nothing of who may read
        token.chmod(0o640)
        yield "token-not-private", refusal(partial(read_token, str(token)))
    yield "token-not-private", refusal(partial(read_token, os.devnull))
    for named in (token, folder / "none.pem"):
        base = "https://127.0.0.1/fhir"
        yield "certificate-unreadable", refusal(partial(Client, base, None, str(named)))
    with serving(Record(), CERTIFICATE) as base:
        yield "server-certificate", refusal(partial(ask, base))
