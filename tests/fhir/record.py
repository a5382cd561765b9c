"""A record system in this process that speaks enough of HL7 FHIR R4, and can misbehave.

It is written from the standard (https://hl7.org/fhir/R4/http.html and search.html): reads, searches
with pages, transactions with conditional creates, updates with `If-Match`. A parameter that it does
not know is refused, so that a test cannot pass by a search that finds everything.
"""

import json
import ssl
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from itertools import count
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlsplit

Resource = dict[str, Any]
CAPABILITIES: Resource = {
    "resourceType": "CapabilityStatement",
    "fhirVersion": "4.0.1",
    "format": ["json"],
    "rest": [{"mode": "server", "interaction": [{"code": "transaction"}]}],
}


class FaultError(Exception):
    """A request that the standard answers with a status of 400 or more."""

    def __init__(self, status: int, why: str = "refused") -> None:
        super().__init__(why)
        self.status = status


@dataclass
class Asked:
    """One request as it came."""

    method: str
    path: str
    query: list[tuple[str, str]]
    headers: Mapping[str, str]
    body: Any


@dataclass
class Record:
    """The content of the record, and how it behaves. `before` sees each request first, and returns
    True where it has answered (or torn) it itself.
    """

    token: str | None = None
    page_size: int = 50
    most_entries: int = 1000
    keeps_if_none_exist: bool = True
    capabilities: Resource = field(default_factory=lambda: deepcopy(CAPABILITIES))
    before: Callable[["Handler", Asked], bool] = lambda _handler, _asked: False
    asked: list[Asked] = field(default_factory=list)
    base: str = ""
    dripped: int = 0  # bytes of an answer that comes a byte at a time
    _kept: dict[tuple[str, str], Resource] = field(default_factory=dict)
    _ids: Iterator[int] = field(default_factory=lambda: count(1))
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def put(self, *resources: Resource) -> None:
        """Keep resources that have an id, as a new version."""
        for each in resources:
            self.store(each, each["id"])

    def store(self, resource: Resource, at: str | None = None) -> Resource:
        kind = resource["resourceType"]
        resource_id = at or f"r{next(self._ids)}"
        old = self._kept.get((kind, resource_id))
        version = int(old["meta"]["versionId"]) + 1 if old else 1
        meta = {**resource.get("meta", {}), "versionId": str(version)}
        self._kept[kind, resource_id] = {**resource, "id": resource_id, "meta": meta}
        return self._kept[kind, resource_id]

    def all(self, kind: str) -> list[Resource]:
        return [each for (of, _), each in self._kept.items() if of == kind]

    @property
    def writes(self) -> list[Asked]:
        return [each for each in self.asked if each.method != "GET"]

    def answer(self, asked: Asked) -> tuple[int, Resource]:
        with self._lock:
            if self.token and asked.headers.get("Authorization") != f"Bearer {self.token}":
                raise FaultError(401, "no token")
            if asked.method == "POST" and not asked.path:
                return 200, self._transaction(asked.body)
            kind, _, resource_id = asked.path.partition("/")
            if asked.method == "PUT":
                return 200, self._update(kind, resource_id, asked.body, asked.headers)
            if asked.method != "GET":
                raise FaultError(405)
            if kind == "metadata":
                return 200, self.capabilities
            if resource_id:
                if (kind, resource_id) not in self._kept:
                    raise FaultError(404, f"no {kind}")
                return 200, self._kept[kind, resource_id]
            return 200, self._search(kind, asked.query)

    def _search(self, kind: str, query: list[tuple[str, str]]) -> Resource:
        page, size, wanted = 0, self.page_size, []
        for name, value in query:
            if name == "_page":
                page = int(value)
            elif name == "_count":
                size = min(size, int(value))
            else:
                wanted.append((name, value))
        found = [each for each in self.all(kind) if all(fits(each, *one) for one in wanted)]
        shown = found[page * size : (page + 1) * size]
        bundle: Resource = {
            "resourceType": "Bundle",
            "type": "searchset",
            "total": len(found),
            "entry": [
                {"fullUrl": f"{self.base}/{kind}/{each['id']}", "resource": each} for each in shown
            ],
        }
        if len(found) > (page + 1) * size:
            rest = "&".join(f"{name}={value}" for name, value in query if name != "_page")
            target = f"{self.base}/{kind}?{rest}&_page={page + 1}".replace("|", "%7C")
            bundle["link"] = [{"relation": "next", "url": target}]
        return bundle

    def _transaction(self, bundle: Resource) -> Resource:
        if bundle["resourceType"] != "Bundle" or bundle["type"] != "transaction":
            raise FaultError(400, "no transaction")
        entries = bundle["entry"]
        if len(entries) > self.most_entries:
            raise FaultError(413, "too many entries")
        known: dict[str, tuple[str, str]] = {}
        for each in entries:
            if each["request"]["method"] != "POST":
                raise FaultError(400, "only creates here")
            there = self._there(each)
            known[each["fullUrl"]] = (
                (f"{there['resourceType']}/{there['id']}", "200 OK")
                if there
                else (f"{each['resource']['resourceType']}/r{next(self._ids)}", "201 Created")
            )
        text = json.dumps([each["resource"] for each in entries])
        for url, (target, _) in known.items():
            text = text.replace(json.dumps(url), json.dumps(target))
        for each, resource in zip(entries, json.loads(text), strict=True):
            self._check_references(resource, {target for target, _ in known.values()})
            target, status = known[each["fullUrl"]]
            if status.startswith("201"):
                self.store(resource, target.partition("/")[2])
        return {
            "resourceType": "Bundle",
            "type": "transaction-response",
            "entry": [
                {"response": {"status": status, "location": f"{target}/_history/1"}}
                for target, status in known.values()
            ],
        }

    def _there(self, entry: Resource) -> Resource | None:
        """The resource that a conditional create finds."""
        condition = entry["request"].get("ifNoneExist")
        if not condition or not self.keeps_if_none_exist:
            return None
        wanted = parse_qsl(condition, strict_parsing=True)
        kind = entry["request"]["url"]
        found = [each for each in self.all(kind) if all(fits(each, *one) for one in wanted)]
        if len(found) > 1:
            raise FaultError(412, "several")
        return found[0] if found else None

    def _check_references(self, value: Any, coming: set[str]) -> None:
        if isinstance(value, list):
            for each in value:
                self._check_references(each, coming)
        elif isinstance(value, dict):
            target = value.get("reference")
            if isinstance(target, str) and not target.startswith("#") and target not in coming:
                kind, _, resource_id = target.partition("/")
                if (kind, resource_id) not in self._kept:
                    raise FaultError(422, f"nothing at {target}")
            for each in value.values():
                self._check_references(each, coming)

    def _update(
        self, kind: str, resource_id: str, resource: Resource, headers: Mapping[str, str]
    ) -> Resource:
        there = self._kept.get((kind, resource_id))
        if there is None or resource.get("id") != resource_id:
            raise FaultError(400, "no update")
        if headers.get("If-Match") != f'W/"{there["meta"]["versionId"]}"':
            raise FaultError(412, "changed")
        return self.store(resource, resource_id)


def fits(resource: Resource, name: str, values: str) -> bool:
    """Whether a resource has one of the values of a search parameter."""
    return any(_fits(resource, name, value) for value in values.split(","))


def _fits(resource: Resource, name: str, value: str) -> bool:
    if name in ("date", "sent"):
        return _is_in_time(resource, value)
    if name not in _VALUES:
        raise FaultError(400, f"the parameter {name} is not known")
    return value in _VALUES[name](resource)


def _references(*values: Any) -> list[str]:
    return [each["reference"] for each in values if each and "reference" in each]


def _codes(concepts: Any) -> list[str]:
    each_concept = concepts if isinstance(concepts, list) else [concepts or {}]
    return [
        f"{each.get('system')}|{each.get('code')}"
        for concept in each_concept
        for each in concept.get("coding", [])
    ]


def _of_patient(resource: Resource) -> list[str]:
    return _references(resource.get("subject"), resource.get("patient"))


# What a resource has of each parameter.
_VALUES: dict[str, Callable[[Resource], list[str]]] = {
    "identifier": lambda resource: [
        f"{each.get('system')}|{each.get('value')}" for each in resource.get("identifier", [])
    ],
    "code": lambda resource: _codes(resource.get("code")),
    "category": lambda resource: _codes(resource.get("category")),
    "patient": _of_patient,
    "subject": _of_patient,
    "partof": lambda resource: _references(resource.get("partOf")),
    "location": lambda resource: _references(
        *(each.get("location") for each in resource.get("location", []))
    ),
    "status": lambda resource: [str(resource.get("status"))],
}


def _is_in_time(resource: Resource, value: str) -> bool:
    """`ge` and `lt` of an instant or of a period, as R4 says of ranges."""
    period = resource.get("effectivePeriod") or resource.get("performedPeriod") or {}
    at = resource.get("effectiveDateTime") or resource.get("performedDateTime")
    start: str | None = period.get("start") or at or resource.get("sent")
    end: str = period.get("end") or start or ""
    if start is None:
        return False
    prefix, limit = value[:2], datetime.fromisoformat(value[2:])
    if prefix == "ge":
        return _instants(end)[1] >= limit
    assert prefix == "lt"
    return _instants(start)[0] < limit


def _instants(text: str) -> tuple[datetime, datetime]:
    """The first and the last instant of a time; a day is one of this server's, which is in UTC."""
    at = datetime.fromisoformat(text)
    if at.tzinfo:
        return at, at
    return at.replace(tzinfo=UTC), at.replace(tzinfo=UTC) + timedelta(days=1)


class Handler(BaseHTTPRequestHandler):
    """Answers one request. `tear` ends the connection at once."""

    record: Record
    root: str

    def do_GET(self) -> None:
        self._handle()

    def do_POST(self) -> None:
        self._handle()

    def do_PUT(self) -> None:
        self._handle()

    def give(self, status: int, content: bytes, kind: str, **headers: str) -> None:
        self.send_response(status)
        self.send_header("Content-Type", kind)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def give_resource(self, status: int, resource: Resource) -> None:
        self.give(status, json.dumps(resource).encode(), "application/fhir+json; charset=utf-8")

    def tear(self) -> None:
        self.close_connection = True
        self.wfile.flush()

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - of the library
        pass

    def _handle(self) -> None:
        at = urlsplit(self.path)
        content = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        asked = Asked(
            self.command,
            at.path.removeprefix(self.root).strip("/"),
            parse_qsl(at.query, keep_blank_values=True),
            dict(self.headers.items()),
            json.loads(content) if content else None,
        )
        self.record.asked.append(asked)
        if self.record.before(self, asked):
            return
        try:
            self.give_resource(*self.record.answer(asked))
        except FaultError as fault:
            issue = {"severity": "error", "code": "processing", "diagnostics": str(fault)}
            self.give_resource(fault.status, {"resourceType": "OperationOutcome", "issue": [issue]})


class Server(ThreadingHTTPServer):
    """Says nothing of a client that has gone, which many tests want."""

    daemon_threads = True

    def handle_error(self, request: Any, client_address: Any) -> None:
        if not isinstance(sys.exception(), OSError):
            super().handle_error(request, client_address)


@contextmanager
def serving(record: Record, certificate: Path | None = None, root: str = "/fhir") -> Iterator[str]:
    """Serve the record until the block ends, over TLS with a certificate; its base address."""
    handler = type("OfRecord", (Handler,), {"record": record, "root": root})
    server = Server(("127.0.0.1", 0), handler)
    scheme = "http"
    if certificate:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(certificate)
        server.socket = context.wrap_socket(server.socket, server_side=True)
        scheme = "https"
    record.base = f"{scheme}://127.0.0.1:{server.server_address[1]}{root}"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield record.base
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
