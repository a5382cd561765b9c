"""The rows of a Bundle: what was done and seen at the bedside.

Input: the resources of a Bundle whose patients were read. Output: a `Record` for each row. A row is
an exercise, a span, a declining, something told or a note, with the signs that its resource names;
signs that nobody names join those of the same patient and instant.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from handoff.fhir.json_text import obj, seq, txt
from handoff.read.fhir_bundle import Item
from handoff.read.fhir_cells import Cells, described, instant, names_in
from handoff.read.fhir_facts import symptoms_into
from handoff.read.fhir_patients import Stay, stays_in_several_beds
from handoff.read.fhir_reader import NOT_OBSERVED, OBSERVED, Reader, is_observed
from handoff.read.raw_log import Record

# The kinds of row, by what their resources mean; a row of signs alone has none.
_WHAT = {
    **{name: name for name in ("exercise", "away", "asleep", "note", "settled", "left")},
    "held": "hold",
    "resumed": "resume",
    "seen": "",
}
_QUANTITIES = {"spo2": "spo2", "resp-rate": "resp_rate", "pulse": "pulse", "temperature": "temp_c"}
_SIGNS = {**_QUANTITIES, "pain": "pain", "on-oxygen": "on_oxygen", "oxygen": "oxygen"}
_SIGNS["symptoms"] = "symptoms"
_SEEN_BY = frozenset({"nurse", "aide", "therapist", "patient"})
_NOT_IN_ERROR = OBSERVED | NOT_OBSERVED
_IN_WORK = frozenset({"preparation", "in-progress", "not-done", "on-hold", "stopped", "unknown"})


def read_rows(reader: Reader) -> list[Record]:
    """Every row, in the order of the Bundle, those that were set aside among them."""
    anchors, signs = _sorted_out(reader)
    rows = [_row(reader, item, name, signs) for item, name in anchors]
    rows += _of_signs_alone(reader, signs.values())
    _set_aside_before(reader)
    _find_unknown_codes(reader)
    of_patient: defaultdict[str, list[Cells]] = defaultdict(list)
    for each in rows:
        of_patient[each.cells.get("patient_id", "")].append(each)
    for patient_id, stay in stays_in_several_beds(reader).items():
        _put_beds(reader, of_patient[patient_id], stay)
    records = [each.record() for each in rows if reader.fate[each.item.key] == "row"]
    return sorted([*records, *reader.aside], key=lambda each: each.line)


def _sorted_out(reader: Reader) -> tuple[list[tuple[Item, str]], dict[str, tuple[Item, str]]]:
    """The resources of rows that count, each with what it means; and of signs, by key."""
    anchors: list[tuple[Item, str]] = []
    signs: dict[str, tuple[Item, str]] = {}
    for item in reader.bundle.of_type("Observation"):
        names = reader.names(item)
        known = names & (_WHAT.keys() | _SIGNS.keys())
        if len(names) > 1 and known:
            cells = reader.cells(item)
            _read_times(cells)
            if reader.about(cells):
                raw = ", ".join(sorted(names))
                reader.set_aside(cells, "fhir-code", "code", raw=raw)
        elif known & _WHAT.keys() and _is_a_row(reader, item) and is_observed(reader, item):
            anchors.append((item, known.pop()))
        elif known & _SIGNS.keys() and is_observed(reader, item):
            signs[item.key] = item, known.pop()
    anchors += (
        (item, "declined")
        for item in reader.bundle.of_type("Procedure")
        if "declined" in reader.names(item)
        and reader.status(item, frozenset({"not-done"}), _IN_WORK | {"completed"})
    )
    anchors += (
        (item, "told")
        for item in reader.bundle.of_type("Communication")
        if any(
            "told" in names_in(each, reader.codes) for each in seq(item.resource.get("category"))
        )
        and reader.status(item, frozenset({"completed"}), _IN_WORK)
    )
    return sorted(anchors, key=lambda each: each[0].number), signs


def _set_aside_before(reader: Reader) -> None:
    """Rows that were set aside where the Bundle was written: they stay so, with their cells."""
    for item in reader.bundle.of_type("Observation"):
        if reader.names(item) == {"set-aside"} and reader.status(item, _NOT_IN_ERROR, frozenset()):
            cells = reader.cells(item)
            for index, each in enumerate(map(obj, seq(item.resource.get("component")))):
                names = names_in(each.get("code"), reader.codes)
                name = reader.codes.word("cell", names.pop() if len(names) == 1 else None)
                if name:
                    cells.put(name, txt(each.get("valueString")), f"component[{index}]")
            why = "; ".join(txt(obj(each).get("text")) for each in seq(item.resource.get("note")))
            reader.set_aside(cells, "fhir-set-aside", raw=why or None)


def _is_a_row(reader: Reader, item: Item) -> bool:
    """Whether a panel of vital signs has any that the log knows; all else is a row."""
    if reader.names(item) != {"seen"}:
        return True
    members = [reader.bundle.resolve(each, item) for each in seq(item.resource.get("hasMember"))]
    inside = map(obj, seq(item.resource.get("component")))
    named = [reader.names(each) for each in members if each is not None]
    named += [names_in(each.get("code"), reader.codes) for each in inside]
    return any(each & _SIGNS.keys() for each in named)


def _row(reader: Reader, item: Item, name: str, signs: dict[str, tuple[Item, str]]) -> Cells:
    """The row of one resource; the signs that it names are taken out of `signs`."""
    cells = reader.cells(item)
    cells.put("what", _WHAT.get(name, name), "code")
    _read_times(cells)
    _read_note(cells, name)
    if name == "exercise" and any(
        each.startswith(("value", "dataAbsentReason")) for each in item.resource
    ):
        cells.value("volume_ml", item.resource, "exercise", "")
    if name in ("away", "asleep") and item.resource.get("valueBoolean") is not True:
        cells.lose("what", "fhir-no-value", "valueBoolean")
    _read_components(cells)
    _read_about(cells, name)
    _read_who_and_how(reader, cells)
    is_sure = reader.about(cells)
    element = {"Procedure": "reasonReference", "Communication": "about"}.get(item.type, "hasMember")
    for reference in seq(item.resource.get(element)):
        sign = reader.bundle.resolve(reference, item)
        if is_sure and sign is not None and _belongs(reader, sign, cells, signs):
            _read_sign(cells, *signs.pop(sign.key))
            reader.fate[sign.key] = "row"
    if is_sure:
        reader.fate[item.key] = "row"
    return cells


def _belongs(
    reader: Reader, sign: Item, cells: Cells, signs: Mapping[str, tuple[Item, str]]
) -> bool:
    """Whether a named sign may stand in the row: it is of the same patient and of no other time,
    and the row has no such sign yet.
    """
    if sign.key not in signs or sign.key in reader.modified:
        return False
    if _SIGNS[signs[sign.key][1]] in cells.cells:
        return False
    if reader.patient_of(sign) is not reader.patient_of(cells.item):
        cells.report("fhir-another-patient", raw=sign.at)
        return False
    holder, name, _ = _time_of(sign)
    at = txt(holder.get(name))
    return not at or instant(at) == instant(cells.cells.get("at", "")) is not None


def _of_signs_alone(reader: Reader, signs: Iterable[tuple[Item, str]]) -> list[Cells]:
    """Rows of signs that nobody names: those of one patient and instant together."""
    rows: dict[tuple[str, datetime], list[Cells]] = {}
    counts: Counter[tuple[str, datetime, str]] = Counter()
    alone: list[Cells] = []
    for item, name in signs:
        cells = reader.cells(item)
        _read_times(cells)
        _read_note(cells, name)
        _read_sign(cells, item, name)
        _read_who_and_how(reader, cells)
        if not reader.about(cells):
            continue
        reader.fate[item.key] = "row"
        moment = instant(cells.cells.get("at", ""))
        if moment is None:
            alone.append(cells)
            continue
        key = cells.cells["patient_id"], moment
        same, number = rows.setdefault(key, []), counts[*key, name]
        counts[*key, name] += 1  # two values of one sign are in two rows
        if number < len(same) and not _disputes(same[number], cells):
            same[number].take(cells)
        else:
            same.append(cells)
    return [*alone, *(each for same in rows.values() for each in same)]


def _disputes(row: Cells, cells: Cells) -> bool:
    """Whether a row already says something about what other cells say, but when and of whom."""
    said = row.cells.keys() | row.lost.keys()
    own = cells.cells.keys() | cells.lost.keys()
    same = (said & own) - {"patient_id", "at"}
    return any(
        row.cells.get(name) != cells.cells.get(name) or name in _SIGNS.values() for name in same
    )


def _read_sign(cells: Cells, item: Item, name: str) -> None:
    """A vital sign, pain, oxygen or symptoms, from an Observation of its own."""
    _read_value_of_sign(cells, item.resource, name, "", item)


def _read_value_of_sign(
    cells: Cells, holder: Mapping[str, Any], name: str, path: str, item: Item
) -> None:
    field = _SIGNS[name]
    if name in _QUANTITIES:
        cells.value(field, holder, name, path, of=item)
    elif name == "pain":
        cells.whole(field, holder, name, path, of=item)
    elif name == "on-oxygen":
        cells.yes_or_no(field, holder, path, of=item)
    elif name == "oxygen":
        cells.text(field, holder, path, of=item)
    else:
        cells.is_absent(field, holder, path, of=item)
        symptoms_into(cells, field, item, in_part=True)


def _read_components(cells: Cells) -> None:
    """Breaths, hold and flow of an exercise; signs that are parts of a panel."""
    item, topics = cells.item, []
    for index, each in enumerate(map(obj, seq(item.resource.get("component")))):
        path = f"component[{index}]."
        names = names_in(each.get("code"), cells.codes)
        name = names.pop() if len(names) == 1 else ""
        if name == "breaths":
            cells.whole("breaths", each, "breaths", path)
        elif name == "hold":
            cells.value("hold_s", each, "hold", path)
        elif name == "flow" and not cells.is_absent("flow", each, path):
            cells.word("flow", each.get("valueCodeableConcept"), "flow", path.rstrip("."))
        elif name == "about":
            word = cells.word_of(each.get("valueCodeableConcept"), "about")
            topics += [word] if word else []
        elif name in _SIGNS and name != "symptoms":
            _read_value_of_sign(cells, each, name, path, item)
        elif name != "flow":
            cells.report("fhir-part", path.rstrip("."), raw=described(each.get("code")))
    cells.put("about", "; ".join(topics), "component")


def _read_about(cells: Cells, name: str) -> None:
    """What somebody was told of: a reason for each topic."""
    if name == "told":
        reasons = seq(cells.item.resource.get("reasonCode"))
        words = [cells.word_of(each, "about") for each in reasons]
        cells.put("about", "; ".join(filter(None, words)), "reasonCode")


def _time_of(item: Item) -> tuple[Mapping[str, Any], str, str]:
    """What holds the start of a resource's time, under which name, and its element."""
    resource = item.resource
    for element in ("effectiveDateTime", "effectiveInstant", "performedDateTime"):
        if txt(resource.get(element)):
            return resource, element, ""
    for element in ("effectivePeriod", "performedPeriod"):
        if element in resource:
            return obj(resource[element]), "start", f"{element}."
    return resource, "sent", ""


def _read_times(cells: Cells) -> None:
    holder, name, path = _time_of(cells.item)
    cells.time("at", holder, name, path)
    if name == "start":
        cells.time("until", holder, "end", path)


def _read_note(cells: Cells, name: str) -> None:
    """The words of a row: those that are its value, and the notes on it."""
    resource, words = cells.item.resource, []
    path = "note"
    if name in ("note", "held", "resumed", "settled", "left"):
        path = "valueString"
        words.append(txt(resource.get("valueString")))
        other = next((each for each in resource if each.startswith("value") and each != path), None)
        if other and name != "note" and resource[other] is not True:
            cells.lose("what", "fhir-no-value", other, raw=other)  # it may say that it is not so
        elif other and name == "note":
            cells.lose("note", "fhir-no-value", other, raw=other)
    elif name == "told":
        path = "payload"
        payload = map(obj, seq(resource.get("payload")))
        words += [txt(each.get("contentString")) for each in payload]
    elif name == "declined":
        path = "statusReason"
        words.append(txt(obj(resource.get("statusReason")).get("text")))
    words += [txt(obj(each).get("text")) for each in seq(resource.get("note"))]
    cells.put("note", "; ".join(filter(None, words)), path)


def _read_who_and_how(reader: Reader, cells: Cells) -> None:
    """Who saw it, and the position."""
    resource = cells.item.resource
    performers = seq(resource.get("performer")) or [resource.get("sender")]
    if cells.item.type == "Procedure":
        performers = [obj(each).get("actor") for each in performers]
    for reference in performers:
        of_patient = reader.bundle.resolve(reference, cells.item)
        patient = reader.patient_of(cells.item)
        word = txt(obj(reference).get("display")).casefold()
        if patient is not None and of_patient is patient:
            word = "patient"
        if word in _SEEN_BY:
            cells.put("seen_by", word, "performer")
            break
    for index, each in enumerate(map(obj, seq(resource.get("extension")))):
        if each.get("url") == cells.codes.extensions["position"]:
            path = f"extension[{index}]"
            cells.word("position", each.get("valueCodeableConcept"), "position", path)


def _put_beds(reader: Reader, rows: Iterable[Cells], stay: Stay) -> None:
    """The bed at the time of each row, of a patient who changed it between rows. Where there is no
    row in the last bed yet, that is the patient's bed and no more is said.
    """
    beds: dict[str, list[Cells]] = {}
    for cells in rows:
        at = instant(cells.cells.get("at", ""))
        bed = next((each for each in stay.beds if at and each.holds(at)), None)
        if bed:
            beds.setdefault(bed.name, []).append(cells)
    last = {each.name for each in stay.beds if each.is_now}
    if len(beds) > 1 and last <= beds.keys():
        for name, of_bed in beds.items():
            for cells in of_bed:
                cells.put("bed", name, "location", stay.encounter)
            if name not in last:
                before = reader.cells(stay.encounter)
                before.put("patient_id", of_bed[0].cells["patient_id"], "subject")
                before.put("bed", name, "location")
                reader.keep(before)


def _find_unknown_codes(reader: Reader) -> None:
    """Resources with a code of our own that this program does not know, or that it knows for
    something else: they are ours, and are set aside.
    """
    own = reader.codes.systems["own"]
    results = {each.code for one in reader.codes.results.values() for each in one.write}
    for item in reader.bundle.items.values():
        if item.key in reader.fate:
            continue
        codes = [
            txt(each.get("code"))
            for each in map(obj, seq(obj(item.resource.get("code")).get("coding")))
            if each.get("system") == own
        ]
        if codes and not results.issuperset(codes):
            cells = reader.cells(item)
            _read_times(cells)
            if reader.about(cells):
                reader.set_aside(cells, "fhir-code", "code", raw=codes[0])
