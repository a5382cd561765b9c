"""A connection to one FHIR server: requests -> resources, within bounds.

Input: the base address, a token, a certificate, what to ask for. Output: what the server answers,
as dictionaries. Raises `Refused`, with one finding, for every answer that is not the one asked for.

Asks no other host than that of the base address: follows no redirect, uses no proxy, goes to a next
page only under the base. Never prints the token, and never checks a certificate less than the
system does. The time for all of it is bounded by whoever runs it (`run/bounds.py`).
"""

import os
import re
import ssl
import stat
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from http.client import HTTPConnection, HTTPException, HTTPResponse, HTTPSConnection
from ipaddress import ip_address
from pathlib import Path
from typing import Any
from urllib.parse import SplitResult, urlencode, urljoin, urlsplit

from handoff import portable
from handoff.fhir.json_text import dump, load_json, obj, objs
from handoff.log.yaml_nodes import encoding_of
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.refused import Refused
from handoff.model.wording import FINDINGS

TOKEN_VARIABLE = "HANDOFF_FHIR_TOKEN"  # noqa: S105 - the name of a variable
MOST_PAGES = 200  # of one search; at fifty resources a page far more than a ward's shift has
SILENT_S = 30  # seconds without a single byte
PIECE_BYTES = 2**16
LONGEST_TOKEN = 2**14

_FHIR = "application/fhir+json"
_JSON_TYPES = frozenset({_FHIR, "application/json", "text/json"})
_TOKEN = re.compile(r"[\x21-\x7e]+")  # what a header can hold: RFC 7230, section 3.2
ID = re.compile(r"[A-Za-z0-9.-]{1,64}")  # of a resource or a version (R4, data types)
# A reference within a server, without a version (R4, references).
_PATH = re.compile(r"(?P<path>[A-Z][A-Za-z]{1,63}/[A-Za-z0-9.-]{1,64})(/_history/[A-Za-z0-9.-]+)?")
_OK = range(200, 300)
_REDIRECTS = range(300, 400)

Resource = dict[str, Any]
Parameters = Sequence[tuple[str, str]]


class Torn(Refused):
    """The connection ended before the answer was whole: what was sent may have arrived, or not."""


class NotThere(Refused):
    """The server has nothing at this address."""


class Answer(Frozen):
    """A status that the server gave, and the resource with it; empty where there is none."""

    status: int
    resource: Resource

    @property
    def is_ok(self) -> bool:
        """Whether the request was done."""
        return self.status in _OK


class Client:
    """Asks the server at `base`. `left_bytes` is how much of answers may still come."""

    def __init__(
        self,
        base: str,
        token: str | None = None,
        certificates: str | None = None,
        left_bytes: int = 64 * 10**6,
        silent_s: float = SILENT_S,
    ) -> None:
        self.base = base.strip().rstrip("/")
        self.token = token
        self.left_bytes = left_bytes
        self.silent_s = silent_s
        self._at: SplitResult = _checked(self.base)
        self._context = _context(self.base, certificates) if self.is_encrypted else None

    @property
    def is_encrypted(self) -> bool:
        """Whether the server is asked over TLS."""
        return self._at.scheme == "https"

    def check_release(self, *, writes: bool) -> None:
        """Refuse a server that does not say that it has FHIR R4 or R4B in JSON and, to write,
        transactions. Between 4.0 and 4.3 nothing that is exchanged here differs.
        """
        said = self.read("metadata")
        formats = said.get("format")
        modes = [each for each in objs(said.get("rest")) if each.get("mode") == "server"]
        can = [each.get("code") for mode in modes for each in objs(mode.get("interaction"))]
        if not re.match(r"4\.[03]\.", str(said.get("fhirVersion"))):
            wanted = "release"
        elif not isinstance(formats, list) or not any("json" in str(each) for each in formats):
            wanted = "json"
        elif writes and "transaction" not in can:
            wanted = "transactions"
        else:
            return
        words = FINDINGS.say(f"server-release.wanted.{wanted}")
        raise self.refused("server-release", "metadata", wanted=words)

    def read(self, path: str) -> Resource:
        """The resource at a path such as `Patient/17`, of that type. Refuses any other answer."""
        resource = self._done("GET", f"{self.base}/{path}")
        kind, _, resource_id = path.partition("/")
        wanted = "CapabilityStatement" if path == "metadata" else kind
        is_same = not resource_id or resource.get("id") == resource_id
        if resource.get("resourceType") != wanted or not is_same:
            raise self.refused("server-other-answer", path, wanted=wanted)
        return resource

    def find(self, path: str) -> Resource | None:
        """The resource at a path; None where the server has none there."""
        try:
            return self.read(path)
        except NotThere:
            return None

    def path_of(self, reference: object) -> str | None:
        """The path, such as `Patient/17`, that a Reference names on this server; None for any other
        reference.
        """
        target = obj(reference).get("reference")
        if not isinstance(target, str):
            return None
        found = _PATH.fullmatch(target.removeprefix(f"{self.base}/"))
        return found["path"] if found else None

    def search(self, kind: str, parameters: Parameters) -> Iterator[Resource]:
        """Every resource of one type that a search finds, over all its pages."""
        address: str | None = f"{self.base}/{kind}?{urlencode(parameters)}"
        seen: set[str] = set()
        while address:
            if address in seen or len(seen) == MOST_PAGES:
                raise self.refused("server-endless-pages", kind, pages=len(seen))
            seen.add(address)
            page = self._done("GET", address)
            if page.get("resourceType") != "Bundle" or page.get("type") != "searchset":
                raise self.refused("server-other-answer", kind, wanted="searchset Bundle")
            yield from self._found(kind, page)
            address = self._next_page(kind, address, page)

    def send(
        self,
        method: str,
        path: str,
        resource: Resource,
        headers: Mapping[str, str] | None = None,
    ) -> Answer:
        """Send a resource and return the answer, whatever its status says of the resource itself.

        Refuses an answer that says that nothing more can be sent, as without a right. Raises `Torn`
        where no whole answer came.
        """
        address = f"{self.base}/{path}" if path else self.base
        answer = self._asked(method, address, dump(resource).encode(), headers)
        self._refuse_for_all(path, answer)
        if answer.status in (502, 504):  # a gateway lost it on its way, there or back
            raise self._torn(path, FINDINGS.say("server-not-reached.gateway", status=answer.status))
        return answer

    def refused(
        self, code: str, path: str = "", raw: str | None = None, **words: object
    ) -> Refused:
        """The refusal of kind `code` at a path under the base, which never tells of a patient."""
        return Refused(finding(code, self.place(path), None, raw, **words))

    def place(self, path: str = "") -> Place:
        """Where under the base something is, for findings."""
        return Place(f"{self.base}/{path}".rstrip("/"))

    def _done(self, method: str, address: str) -> Resource:
        """The resource of an answer that says that the request was done. A torn connection is tried
        once more: to read again changes nothing.
        """
        try:
            answer = self._asked(method, address)
        except Torn:
            answer = self._asked(method, address)
        path = urlsplit(address).path.removeprefix(self._at.path).strip("/")
        self._refuse_for_all(path, answer)
        if not answer.is_ok:
            code = "server-not-found" if answer.status in (404, 410) else "server-refuses"
            raised = NotThere if code == "server-not-found" else Refused
            said = outcome(answer.resource)
            raise raised(finding(code, self.place(path), None, said, status=answer.status))
        if not answer.resource:
            raise self.refused("server-not-json", path, wanted=_FHIR)
        return answer.resource

    def _refuse_for_all(self, path: str, answer: Answer) -> None:
        """Refuse what holds for every further request too."""
        code = {401: "server-login", 403: "server-forbids", 429: "server-busy", 503: "server-busy"}
        if answer.status in code:
            raise self.refused(code[answer.status], path, outcome(answer.resource))

    def _found(self, kind: str, page: Resource) -> Iterator[Resource]:
        """The resources of a page that were searched for. An outcome among them that says that
        something went wrong is refused: the page may lack what it could not find.
        """
        for entry in objs(page.get("entry")):
            resource = dict(obj(entry.get("resource")))
            found = resource.get("resourceType")
            if found == "OperationOutcome":
                if any(
                    each.get("severity") in ("fatal", "error")
                    for each in objs(resource.get("issue"))
                ):
                    raise self.refused("server-refuses", kind, outcome(resource), status=200)
            elif found == kind and ID.fullmatch(str(resource.get("id") or "")):
                yield resource
            else:
                raise self.refused("server-other-answer", kind, wanted=kind)

    def _next_page(self, kind: str, address: str, page: Resource) -> str | None:
        for link in objs(page.get("link")):
            if link.get("relation") == "next":
                target = _joined(address, str(link.get("url")))
                # A page elsewhere would be given the token, and could be anybody's.
                if not target.startswith((f"{self.base}/", f"{self.base}?")) or "/.." in target:
                    raise self.refused("server-foreign-page", kind, _host(target))
                return target
        return None

    def _asked(
        self,
        method: str,
        address: str,
        body: bytes | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> Answer:
        at = urlsplit(address)
        path = at.path.removeprefix(self._at.path).strip("/")
        try:
            with closing(self._connection()) as connection:
                connection.request(
                    method,
                    f"{at.path or '/'}?{at.query}" if at.query else at.path or "/",
                    body,
                    {**self._headers(body), **(headers or {})},
                )
                with connection.getresponse() as response:
                    return Answer(response.status, self._content(path, response))
        except ssl.SSLCertVerificationError as error:
            raise self.refused("server-certificate", raw=error.verify_message) from error
        except TimeoutError as error:
            reason = FINDINGS.say("server-not-reached.silent", seconds=self.silent_s)
            raise self._torn(path, reason) from error
        except OSError as error:
            raise self._torn(path, portable.reason(error)) from error
        except (HTTPException, UnicodeError) as error:
            raise self._torn(path, type(error).__name__) from error

    def _torn(self, path: str, reason: str) -> Torn:
        return Torn(finding("server-not-reached", self.place(path), reason=reason))

    def _connection(self) -> HTTPConnection:
        host, port = self._at.hostname or "", self._at.port
        if self._context:
            return HTTPSConnection(host, port, timeout=self.silent_s, context=self._context)
        return HTTPConnection(host, port, timeout=self.silent_s)

    def _headers(self, body: bytes | None) -> dict[str, str]:
        # A parameter that is not understood has to be refused, or a search finds far too much.
        headers = {"Accept": _FHIR, "Connection": "close", "Prefer": "handling=strict"}
        if self.token:
            headers["Authorization"] = f"Bearer {self.token}"
        if body is not None:
            headers |= {"Content-Type": _FHIR, "Prefer": "return=minimal"}
        return headers

    def _content(self, path: str, response: HTTPResponse) -> Resource:
        """The resource of an answer; empty where the status is that of a fault and what came with
        it is no resource.
        """
        if response.status in _REDIRECTS:
            target = _host(_joined(self.base, response.headers.get("Location") or ""))
            raise self.refused("server-redirects", path, target, status=response.status)
        content = self._bytes(path, response)
        kind = response.headers.get_content_type()
        is_text = (response.headers.get("Content-Encoding") or "identity") == "identity"
        is_ok = response.status in _OK
        if not content:
            return {}
        if kind not in _JSON_TYPES or not is_text:
            if is_ok:
                raise self.refused("server-not-json", path, kind, wanted=_FHIR)
            return {}
        document, findings = self._parsed(path, content)
        if findings and is_ok:
            raise Refused(findings[0])
        return document if isinstance(document, dict) else {}

    def _parsed(self, path: str, content: bytes) -> tuple[object, list[Finding]]:
        place = self.place(path)
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError:
            problem = FINDINGS.say("fhir-json.not-utf-8")
            return None, [finding("fhir-json", place, problem=problem)]
        return load_json(text, str(place))

    def _bytes(self, path: str, response: HTTPResponse) -> bytes:
        """All of an answer, in pieces: a long read would wait for as long as a server drips."""
        content = bytearray()
        while True:
            piece = response.read1(PIECE_BYTES)
            self.left_bytes -= len(piece)
            if self.left_bytes < 0:
                raise self.refused("server-floods", path)
            content += piece
            if not piece:
                break
        if response.length:  # of bytes that were promised and did not come
            raise self._torn(path, FINDINGS.say("server-not-reached.torn"))
        return bytes(content)


def outcome(resource: Resource) -> str | None:
    """What an OperationOutcome says of the first thing that is wrong; None where it says nothing.
    Findings quote it escaped and cut.
    """
    for issue in objs(resource.get("issue")):
        details = obj(issue.get("details"))
        for text in (issue.get("diagnostics"), details.get("text"), issue.get("code")):
            if isinstance(text, str) and text.strip():
                return text
    return None


def read_token(path: str | None) -> str | None:
    """The token of a file, or of the variable where no file is named; None where there is neither.

    Refuses a file that others may read, and what no header can hold. Never says what it holds.
    """
    if path is None:
        where, text = Place(TOKEN_VARIABLE), os.environ.get(TOKEN_VARIABLE, "")
        if not text.strip():
            return None
    else:
        where = Place(path)
        try:
            with Path(path).open("rb") as stream:
                is_file = stat.S_ISREG(os.fstat(stream.fileno()).st_mode)
                if not is_file or portable.others_may_read(stream.fileno()):
                    raise Refused(finding("token-not-private", where))
                content = stream.read(2 * LONGEST_TOKEN + 4)  # one letter too many, in UTF-16
            text = content.decode(encoding_of(content), "replace")
        except OSError as error:
            raise Refused(
                finding("token-unreadable", where, reason=portable.reason(error))
            ) from error
        except ValueError as error:
            reason = FINDINGS.say("token-unreadable.no-name")
            raise Refused(finding("token-unreadable", where, reason=reason)) from error
    token = text.strip()
    if not _TOKEN.fullmatch(token) or len(token) > LONGEST_TOKEN:
        raise Refused(finding("token-not-one", where))
    return token


def _checked(base: str) -> SplitResult:
    """The parts of a base address. Refuses one that is not encrypted, but to this machine itself,
    and one that holds more than host and path.
    """
    try:
        at = urlsplit(base)
        host, _ = at.hostname or "", at.port
    except ValueError:
        raise Refused(finding("server-address", Place("BASE"), raw=base)) from None
    plain = re.fullmatch(r"[\x21-\x7e]+", base) and "/.." not in base
    if not (host and plain) or at.scheme not in ("http", "https") or re.search(r"[?#@\\]", base):
        raise Refused(finding("server-address", Place("BASE"), raw=_host(base) or base))
    if at.scheme == "http" and not _is_loopback(host):
        raise Refused(finding("server-not-encrypted", Place(base)))
    return at


def _is_loopback(host: str) -> bool:
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _joined(base: str, address: str) -> str:
    """The whole address of one that may be relative; nothing for one that is none."""
    try:
        return urljoin(base, address)
    except ValueError:
        return ""


def _host(address: str) -> str:
    """The host of an address alone: the rest may hold a name, a number or a key."""
    try:
        return urlsplit(address).hostname or ""
    except ValueError:
        return ""


def _context(base: str, certificates: str | None) -> ssl.SSLContext:
    try:
        context = ssl.create_default_context(cafile=certificates)
    except (OSError, ValueError) as error:  # an ssl.SSLError is an OSError
        raise Refused(finding("certificate-unreadable", Place(certificates or base))) from error
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context
