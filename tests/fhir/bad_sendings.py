"""A sending that goes wrong for each code, as small as it can be."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handoff.fhir.client import Client
from handoff.fhir.outgoing import paired, read_folder
from handoff.fhir.send import How, Sender
from handoff.model.findings import Finding
from handoff.model.refused import Refused
from tests.fhir.record import Asked, Handler, Record, Resource, serving
from tests.fhir.sending import ROWS, exercise, page, patient, sign, write
from tests.fhir.ward import NUMBERS, person

ODILE = patient()
THERE = person("p1", "10442", "Odile Larkspur", "1958-04-02")
REPLACED = [{"other": {"reference": "Patient/y"}, "type": "replaced-by"}]
OLD = [{"use": "old", "system": NUMBERS, "value": "10442"}]

# Patients of a record who are not surely the one of the log, by what is wrong.
IN_DOUBT: dict[str, tuple[list[Resource], str]] = {
    "nobody": ([], "send-nobody"),
    "old number": ([{**THERE, "identifier": OLD}], "send-nobody"),
    "two": ([THERE, {**THERE, "id": "p9"}], "send-several"),
    "inactive": ([{**THERE, "active": False}], "send-inactive"),
    "replaced": ([{**THERE, "link": REPLACED}], "send-inactive"),
    "other birth date": ([{**THERE, "birthDate": "1958-04-03"}], "send-born"),
    "no birth date": ([{**THERE, "birthDate": None}], "send-born"),
    "other name": ([{**THERE, "name": [{"text": "Tomas Fennimore"}]}], "send-name"),
    "no name": ([{**THERE, "name": []}], "send-name"),
}


@dataclass(frozen=True)
class BadSending:
    """What is sent first, what then becomes of it in the record, and how the server behaves when
    it is sent once more, with another volume and to be corrected.
    """

    change: Callable[[Resource], dict[str, Any]] = lambda _there: {}
    before: Callable[[Handler, Asked], bool] = lambda _handler, _asked: False
    first: bool = True
    correct: bool = True
    most_entries: int = 8


def _twice(handler: Handler, asked: Asked) -> bool:
    if asked.method == "POST":
        handler.record.keeps_if_none_exist = False
        handler.record.answer(asked)
    return False


def _changes(handler: Handler, asked: Asked) -> bool:
    if asked.method == "PUT":
        handler.record.put(handler.record.answer(Asked("GET", asked.path, [], {}, None))[1])
    return False


def _forgets_versions(handler: Handler, asked: Asked) -> bool:
    if asked.method != "GET" or asked.path != "Observation":
        return False
    status, bundle = handler.record.answer(asked)
    for each in bundle["entry"]:
        each["resource"].pop("meta")
    handler.give_resource(status, bundle)
    return True


def _forgets_what_it_took(handler: Handler, asked: Asked) -> bool:
    if asked.method != "POST":
        return False
    answers = [{"response": {"status": "201 Created", "location": "Observation/x"}}]
    bundle = {"resourceType": "Bundle", "type": "transaction-response", "entry": answers}
    handler.give_resource(200, bundle)
    return True


def _refuses(handler: Handler, asked: Asked) -> bool:
    if asked.method == "POST":
        handler.give_resource(422, {"resourceType": "OperationOutcome"})
    return asked.method == "POST"


BAD_SENDINGS = {
    "send-of-another": BadSending(lambda _: {"subject": {"reference": "Patient/p2"}}),
    "send-entered-in-error": BadSending(lambda _: {"status": "entered-in-error"}),
    "send-differs": BadSending(correct=False),
    "send-twice": BadSending(before=_twice, first=False),
    "send-refused": BadSending(before=_refuses, first=False),
    "send-unresolved": BadSending(before=_refuses, first=False, most_entries=1),
    "send-not-there": BadSending(before=_forgets_what_it_took, first=False, most_entries=1),
    "send-changed": BadSending(before=_changes),
    "send-no-version": BadSending(before=_forgets_versions),
}


def found_of_sending(folder: Path, bad: BadSending) -> list[Finding]:
    """All that is found of one."""
    record = Record()
    record.put(THERE, person("p2", "10557", "Tomas Fennimore", "1949-11-30"))
    with serving(record) as base:
        if bad.first:
            _sent(base, write(folder, sign("s", ODILE), exercise("row", ODILE, "s")), How(ROWS))
            for each in record.all("Observation"):
                record.put({**each, **bad.change(each)})
        record.before = bad.before
        write(folder, sign("s", ODILE, 91), exercise("row", ODILE, "s", ml=1250))
        return _sent(base, folder, How(ROWS, bad.most_entries, correct=bad.correct))


def _sent(base: str, folder: Path, how: How) -> list[Finding]:
    sender = Sender(Client(base), how)
    (outgoing,), _ = read_folder(str(folder), ROWS)
    sender.send(outgoing)
    return sender.findings


def found_of_sendings(folder: Path) -> dict[str, list[Finding]]:
    """What is found of all that can go wrong in sending, by code."""
    found = {code: found_of_sending(folder / code, bad) for code, bad in BAD_SENDINGS.items()}
    files = write(folder / "doubt", exercise("row", ODILE))
    for there, code in IN_DOUBT.values():
        record = Record()
        record.put(*there)
        with serving(record) as base:
            found[code] = _sent(base, files, How(ROWS))
    found |= {"send-no-files": _refusal(lambda: read_folder(str(folder), ROWS))}
    found |= {"send-file": read_folder(str(write(folder / "empty")), ROWS)[1]}
    other = write(folder / "other", page("x", ODILE))
    outgoing, _ = read_folder(str(files), ROWS)
    record = Record()
    record.put(THERE)
    with serving(record) as base:
        for row in ("at ten", "at eleven"):
            mended = write(folder / row, exercise(row, ODILE), page("x", ODILE))
            found["send-only-there"] = _sent(base, mended, How(ROWS))
    with_signs = write(folder / "signs", page("x", ODILE), besides=("signs",))
    without, _ = read_folder(str(other), ROWS)
    return {
        **found,
        "send-other-shift": _refusal(lambda: paired(outgoing, str(other), ROWS)),
        "send-made-without": _refusal(lambda: paired(without, str(with_signs), ROWS)),
    }


def _refusal(of: Callable[[], object]) -> list[Finding]:
    try:
        of()
    except Refused as refused:
        return [refused.why] if isinstance(refused.why, Finding) else []
    return []


SEND_CODES = (
    *BAD_SENDINGS,
    *dict.fromkeys(code for _, code in IN_DOUBT.values()),
    *("send-no-files", "send-file", "send-other-shift", "send-made-without"),
    "send-only-there",
)
