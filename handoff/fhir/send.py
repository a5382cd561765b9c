"""What the ward has to send -> what is new of it, on a server, once.

Input: an `Outgoing` of each patient and a client. Output: new resources on the server, counts and
findings. Sends nothing of a patient whose identity is in doubt. Never creates or changes a patient,
a stay, an order or a goal; never touches what the record calls entered in error. Changes what was
sent before only where it was not final, or where it is asked to correct.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, TypeAlias

from msgspec import Struct, field
from msgspec.structs import asdict

from handoff.fhir.client import ID, Answer, Client, Resource, Torn, outcome
from handoff.fhir.identified import identified
from handoff.fhir.json_text import obj, objs, txt
from handoff.fhir.outgoing import OF_WHOM, Entry, Outgoing, logical, references, urls
from handoff.fhir.same import difference
from handoff.fhir.transactions import (
    PAGE,
    SIGNS,
    batches,
    is_earlier,
    key_of,
    own_values,
    path_of,
    replacing,
    transaction,
)
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen

MOST_AT_ONCE = 50  # identifiers of one search: an address of some 6,000 characters
MOST_TRIES = 3  # of one transaction over connections that tear

IN_ERROR, SUPERSEDED = "entered-in-error", "superseded"
FINAL = frozenset({"final", "amended", "corrected"})
CHANGED = frozenset({409, 412})  # the version is not the one that was seen

# The kinds of row with a time, by the codes of our own that they have.
ROWS = frozenset(
    {"exercise", "away", "asleep", "declined", "held", "resumed", "settled", "left", "note"}
)

# By type and value of an identity, what the server has of it.
There: TypeAlias = Mapping[tuple[str, str], list[Resource]]


class Counts(Struct):
    """Entries by what became of them; together they are all that were to be sent, but for
    `withdrawn`, which are gone from the log.
    """

    sent: int = 0
    there: int = 0
    updated: int = 0
    differ: int = 0
    left_out: int = 0
    withdrawn: int = 0

    def __bool__(self) -> bool:
        """Whether anything was written to the server."""
        return bool(self.sent or self.updated or self.withdrawn)

    def text(self, *, dry_run: bool) -> str:
        """All counts but those of nothing, in words."""
        parts = (
            f"{count:,} {(_TO_DO if dry_run else _DONE)[name]}"
            for name, count in asdict(self).items()
            if count
        )
        return ", ".join(parts) or "nothing to send"


_DONE = {
    "sent": "sent",
    "there": "there already",
    "updated": "brought up to date",
    "differ": "left as the record has them",
    "left_out": "left out",
    "withdrawn": "marked as entered in error",
}
_TO_DO = {
    **_DONE,
    "sent": "to send",
    "updated": "to bring up to date",
    "withdrawn": "to mark as entered in error",
}


class How(Frozen):
    """How to send. `own_system` is that of our identities; `confirmed` are numbers of patients
    whose name in the record is known to be spelled in another way.
    """

    own_system: str
    most_entries: int = 8
    dry_run: bool = False
    correct: bool = False
    confirmed: frozenset[str] = frozenset()


class Sender(Struct):
    """Sends what is new, file by file, and keeps count."""

    client: Client
    how: How
    counts: Counts = field(default_factory=Counts)
    findings: list[Finding] = field(default_factory=list)

    def send(self, outgoing: Outgoing, older: Outgoing | None = None) -> None:
        """Send what is new of one patient. What is gone since `older` is marked so."""
        patient, doubt = identified(self.client, outgoing.patient, self.how.confirmed)
        if doubt:
            self.report(doubt, Place(outgoing.file), outgoing.patient.number)
            self.counts.left_out += len(outgoing.entries)
        else:
            _OfOne(self, outgoing, patient).send(older)

    def report(self, code: str, place: Place, raw: str | None = None, **words: object) -> None:
        """Keep a finding."""
        self.findings.append(finding(code, place, None, raw, **words))

    def look(self, wanted: Iterable[tuple[str, str]]) -> There:
        """What the server has of identities, each a type and a value."""
        by_kind: defaultdict[str, list[str]] = defaultdict(list)
        for kind, value in wanted:
            by_kind[kind].append(value)
        there: defaultdict[tuple[str, str], list[Resource]] = defaultdict(list)
        system = self.how.own_system
        for kind, values in sorted(by_kind.items()):
            for first in range(0, len(values), MOST_AT_ONCE):
                some = values[first : first + MOST_AT_ONCE]
                asked = ",".join(f"{system}|{each}" for each in some)
                for resource in self.client.search(kind, [("identifier", asked)]):
                    for value in own_values(resource, system):
                        there[kind, value].append(resource)
        return there


class _OfOne(Struct):
    """What is sent of one patient. `known` has the paths on the server by the address within the
    Bundle, and by type and value of an identity; `taken` is what the server has said that it took.
    """

    sender: Sender
    outgoing: Outgoing
    patient: str
    known: dict[object, str] = field(default_factory=dict)
    taken: list[Entry] = field(default_factory=list)

    def send(self, older: Outgoing | None) -> None:
        """Create what is new, replace what is open, mark what is gone."""
        entries, how, counts = self.outgoing.entries, self.sender.how, self.sender.counts
        there = self.sender.look(self._named())
        self._know(there)
        new = [each for each in entries if not there.get(key_of(each))]
        changed = [
            each for each in entries if there.get(key_of(each)) and self._is_open(each, there)
        ]
        gone = self._gone(older) if older else []
        if how.dry_run:
            counts.sent += len(new)
            counts.updated += len(changed)
            counts.withdrawn += len(gone)
            self._report_others([theirs for _, theirs in gone])
            return
        earlier = self._earlier_pages(new)
        for batch in batches(new, how.most_entries):
            self._post([replacing(each, earlier) for each in batch])
        for each in changed:
            self._update(each, there[key_of(each)][0])
        for place, theirs in gone:
            if self._put({**theirs, "status": IN_ERROR}, theirs, place):
                counts.withdrawn += 1
        self._check()
        for theirs in earlier:
            self._put({**theirs, "status": SUPERSEDED}, theirs, Place(self.outgoing.file))
        self._report_others([theirs for _, theirs in gone])

    def _know(self, there: There) -> None:
        """Keep the paths of what the server has of this patient."""
        for (kind, value), found in there.items():
            if self._is_of_patient(found[0]):
                self.known[kind, value] = path_of(found[0])
        for each in self.outgoing.entries:
            if key_of(each) in self.known:
                self.known[each.url] = self.known[key_of(each)]

    def _is_of_patient(self, theirs: Resource) -> bool:
        whom = theirs.get(OF_WHOM[theirs["resourceType"]])
        return self.sender.client.path_of(whom) == self.patient

    def _earlier_pages(self, new: Sequence[Entry]) -> list[Resource]:
        """The printed pages of this shift that the new ones replace."""
        pages = [each for each in new if each.kind == PAGE]
        if not pages:
            return []
        own = self.sender.how.own_system
        there = self.sender.client.search(PAGE, [("patient", self.patient)])
        return [
            each
            for each in there
            if any(is_earlier(each, page.resource) for page in pages) and any(own_values(each, own))
        ]

    def _named(self) -> set[tuple[str, str]]:
        """The identities of all entries, and of what they name that was sent before."""
        own = self.sender.how.own_system
        named = {key_of(each) for each in self.outgoing.entries}
        for entry in self.outgoing.entries:
            for each in references(entry.resource):
                target = logical(each)
                if target and target[1] == own and target[0] in OF_WHOM:
                    named.add((target[0], target[2]))
        return named

    def _is_open(self, entry: Entry, there: There) -> bool:
        """Whether what the server has of an entry is to be changed; counts it where it is not."""
        found, counts, how = there[key_of(entry)], self.sender.counts, self.sender.how
        theirs = found[0]
        if len(found) > 1:
            self._left("send-twice", entry, count=len(found))
        elif theirs.get("status") == IN_ERROR:
            self._left("send-entered-in-error", entry)
        elif not self._is_of_patient(theirs):
            self._left("send-of-another", entry)
        elif (differs := self._difference(entry, theirs)) is None:
            counts.there += 1
        elif how.correct or _was_not_final(entry.resource, theirs):
            return True
        else:
            self._left("send-differs", entry, element=differs)
        return False

    def _left(self, code: str, entry: Entry, raw: str | None = None, **words: object) -> None:
        self.sender.report(code, entry.place, raw or entry.about, **words)
        self.sender.counts.differ += 1

    def _difference(self, entry: Entry, theirs: Resource) -> str | None:
        if entry.kind == PAGE:
            return None  # its identity is that of its bytes, and a server may keep them elsewhere
        return difference(self._ours(entry, theirs), theirs, self.sender.client.path_of)

    def _ours(self, entry: Entry, theirs: Resource) -> Resource:
        """An entry as it is to stand on the server. What was made without signs says nothing of
        them, and a row keeps those that it names there.
        """
        ours: Resource = self._resolved(entry.resource)
        if "signs" in self.outgoing.besides:
            return ours
        return {**{name: theirs[name] for name in SIGNS if name in theirs}, **ours}

    def _post(self, batch: Sequence[Entry], tries: int = MOST_TRIES) -> None:
        """Create the entries of a transaction; over a torn connection those that are not there."""
        entries = [each for each in batch if self._is_resolved(each, batch)]
        for each in batch:
            if each not in entries:
                self._left_out("send-unresolved", each)
        if not entries:
            return
        try:
            answer = self.sender.client.send(
                "POST", "", transaction(self.sender.how.own_system, entries, self._resolved)
            )
        except Torn:
            if tries == 1:
                raise
            self._learn(entries)
            self.taken += [each for each in entries if each.url in self.known]
            self._post([each for each in entries if each.url not in self.known], tries - 1)
            return
        if answer.is_ok:
            self.taken += entries
            self._take_paths(entries, answer)
        else:
            words = outcome(answer.resource)
            for each in entries:
                self._left_out("send-refused", each, words, status=answer.status)

    def _take_paths(self, entries: Sequence[Entry], answer: Answer) -> None:
        """Keep the paths that the server gave to the entries of a transaction."""
        answers = list(objs(answer.resource.get("entry")))
        if len(answers) == len(entries):
            for entry, each in zip(entries, answers, strict=True):
                location = obj(each.get("response")).get("location")
                path = self.sender.client.path_of({"reference": location})
                if path and path.startswith(f"{entry.kind}/"):
                    self.known[entry.url] = path
        if any(each.url not in self.known for each in entries):
            self._learn(entries)

    def _learn(self, entries: Iterable[Entry]) -> None:
        """Ask the server which of the entries it has, and where."""
        self._know(self.sender.look(map(key_of, entries)))

    def _left_out(self, code: str, entry: Entry, raw: str | None = None, **words: object) -> None:
        self.sender.report(code, entry.place, raw or entry.about, **words)
        self.sender.counts.left_out += 1

    def _is_resolved(self, entry: Entry, batch: Sequence[Entry]) -> bool:
        return urls(self._resolved(entry.resource)) <= {each.url for each in batch}

    def _resolved(self, value: Any) -> Any:  # noqa: ANN401 - any part of a resource
        """The value with each reference by its path on the server, where that is known."""
        if isinstance(value, list):
            return [self._resolved(each) for each in value]
        if not isinstance(value, dict):
            return value
        named = logical(value)
        if named == ("Patient", self.outgoing.patient.system, self.outgoing.patient.number):
            return {"reference": self.patient}
        key: object = value.get("reference")
        if named and named[1] == self.sender.how.own_system:
            key = named[0], named[2]
        if isinstance(key, str | tuple) and key in self.known:
            return {"reference": self.known[key]}
        return {name: self._resolved(each) for name, each in value.items()}

    def _update(self, entry: Entry, theirs: Resource) -> None:
        """Put ours in the place of theirs; identifiers of others beside it stay."""
        ours: Resource = {**self._ours(entry, theirs), "id": theirs["id"]}
        ours["identifier"] = theirs["identifier"]
        if txt(theirs.get("status")) in FINAL and ours.get("status") == "final":
            ours["status"] = "corrected"
        if self._put(ours, theirs, entry.place):
            self.sender.counts.updated += 1
        else:
            self.sender.counts.differ += 1

    def _put(self, resource: Resource, theirs: Resource, place: Place) -> bool:
        """Whether the server took a new version, made from the one that was seen."""
        path, meta = path_of(theirs), obj(theirs.get("meta"))
        version = meta.get("versionId")
        if not ID.fullmatch(str(version or "")):
            self.sender.report("send-no-version", place, path)
            return False
        kept = {name: meta[name] for name in ("profile", "security", "tag") if name in meta}
        body = {name: each for name, each in resource.items() if name not in ("meta", "text")}
        answer = self._put_again(
            path, {**body, **({"meta": kept} if kept else {})}, {"If-Match": f'W/"{version}"'}
        )
        if answer.status in CHANGED:
            self.sender.report("send-changed", place, path)
        elif not answer.is_ok:
            words = outcome(answer.resource) or path
            self.sender.report("send-refused", place, words, status=answer.status)
        return answer.is_ok

    def _put_again(self, path: str, body: Resource, headers: Mapping[str, str]) -> Answer:
        """Send it once more over a torn connection: `If-Match` lets no version be made twice."""
        try:
            return self.sender.client.send("PUT", path, body, headers)
        except Torn:
            now = self.sender.client.read(path)
            if difference(body, now, self.sender.client.path_of) is None:
                return Answer(200, now)
            return self.sender.client.send("PUT", path, body, headers)

    def _gone(self, older: Outgoing) -> list[tuple[Place, Resource]]:
        """What the server has of the entries of an older file that are not in this one any more."""
        now = {key_of(each) for each in self.outgoing.entries}
        gone = [each for each in older.entries if each.kind != PAGE and key_of(each) not in now]
        there = self.sender.look(map(key_of, gone))
        return [
            (each.place, theirs)
            for each in gone
            for theirs in there.get(key_of(each), ())
            if theirs.get("status") != IN_ERROR and self._is_of_patient(theirs)
        ]

    def _report_others(self, gone: Sequence[Resource]) -> None:
        """One finding on rows of this shift that only the record has: a row whose time or kind was
        mended in the log is another row, and would stand there twice.
        """
        if self.outgoing.shift is None:
            return
        start, end = self.outgoing.shift
        within = [("patient", self.patient), ("date", f"ge{start}"), ("date", f"lt{end}")]
        known = {key_of(each) for each in self.outgoing.entries} | {
            (each["resourceType"], value) for each in gone for value in self._own(each)
        }
        others = [
            each
            for kind in ("Observation", "Procedure")
            for each in self.sender.client.search(kind, within)
            if any((kind, value) not in known for value in self._own(each))
            and each.get("status") != IN_ERROR
            and any(
                txt(one.get("code")) in ROWS for one in objs(obj(each.get("code")).get("coding"))
            )
        ]
        if others:
            place = Place(self.outgoing.file)
            self.sender.report("send-only-there", place, path_of(others[0]), count=len(others))

    def _own(self, resource: Resource) -> Iterator[str]:
        return own_values(resource, self.sender.how.own_system)

    def _check(self) -> None:
        """Look whether each entry that was taken is there just once, as it was sent."""
        there = self.sender.look(map(key_of, self.taken))
        for each in self.taken:
            found = there.get(key_of(each), [])
            if len(found) == 1 and self._difference(each, found[0]) is None:
                self.sender.counts.sent += 1
            elif len(found) > 1:
                self._left("send-twice", each, count=len(found))
            elif found:
                self._left("send-differs", each, element=self._difference(each, found[0]))
            else:
                self._left_out("send-not-there", each)


def _was_not_final(ours: Resource, theirs: Resource) -> bool:
    """Whether the ward itself sent it as not final: a result of a shift that was still running, or
    a Flag, which nobody else ends.
    """
    is_ended = (theirs.get("status"), ours.get("status")) == ("active", "inactive")
    return theirs.get("status") == "preliminary" or (ours["resourceType"] == "Flag" and is_ended)
