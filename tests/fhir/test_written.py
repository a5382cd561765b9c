"""A log as a Bundle: what stands where, by HL7 FHIR R4 (hl7.org/fhir/R4), typed by hand."""

import json
from typing import Any

import pytest
from msgspec.structs import replace

from handoff.fhir.bundle import collection, not_in_a_bundle
from handoff.model.ward import Log, Unit
from tests.support.fhir_oracles import all_find, fhirkit_finds, shape_of
from tests.support.full_log import CHANGED, FULL
from tests.support.logs import log_of
from tests.support.samples import AUTUMN, MESSY, NIGHT, SHIFTS, SPRING, checked
from tests.support.written_bundles import SYSTEM, bundle_of, codes_of, default_codes, resources, the

Json = dict[str, Any]

ML = {"unit": "mL", "system": "http://unitsofmeasure.org", "code": "mL"}


@pytest.fixture(scope="module")
def full() -> Json:
    return bundle_of(log_of(FULL))


@pytest.fixture(scope="module")
def first(full: Json) -> Json:
    """What the Bundle says of the first patient alone, and of the unit."""
    other = address_of(full, resources(full, "Patient")[1])
    mine = [each for each in full["entry"] if other not in json.dumps(each)]
    return {**full, "entry": mine}


def address_of(bundle: Json, resource: Json) -> str:
    (found,) = [each["fullUrl"] for each in bundle["entry"] if each["resource"] == resource]
    return str(found)


def text_of(resource: Json) -> str:
    return str(resource["note"][0]["text"])


def part(resource: Json, code: str) -> Json:
    (found,) = [each for each in resource["component"] if code in codes_of(each)]
    return dict(found)


def target(goal: Json, code: str) -> Json:
    named = [each for each in goal["target"] if code in codes_of({"code": each["measure"]})]
    return dict(named[0])


def test_the_unit_and_the_shift_stand_in_it_with_their_time_zone(full: Json) -> None:
    ward = next(each for each in resources(full, "Location") if "partOf" not in each)
    assert ward["name"] == "Harbour 3 East"
    assert ward["telecom"] == [{"system": "phone", "value": "ext. 4410"}]
    shift = the(full, "Observation", "shift")
    assert shift["subject"] == {"reference": address_of(full, ward)}
    zone = {
        "url": "http://hl7.org/fhir/StructureDefinition/tz-code",
        "valueCode": "America/Halifax",
    }
    # The night the clock goes forward: 19:00 is 23:00 UTC, 07:00 is 10:00 UTC.
    assert shift["effectivePeriod"] == {
        "start": "2026-03-07T23:00:00Z",
        "end": "2026-03-08T10:00:00Z",
        "_start": {"extension": [zone]},
    }
    said = {codes_of(each).pop(): each["valueString"] for each in shift["component"]}
    assert said == {
        "quiet-hours": "23:00-05:00",
        "home-phone": "902-555-0144",
        "shift-name": "night",
        "outgoing": "M. Adeyemi RN",
        "incoming": "T. Baptiste RN",
    }


def test_a_patient_has_the_hospitals_number_and_stands_in_a_bed_of_the_ward(first: Json) -> None:
    patient = the(first, "Patient")
    (number,) = patient["identifier"]
    assert (number["system"], number["value"]) == (SYSTEM, "10442")
    assert patient["name"] == [{"text": "Larkspur, Odile"}]
    assert (patient["gender"], patient["birthDate"]) == ("female", "1958-04-02")
    stay = the(first, "Encounter")
    assert (stay["status"], stay["class"]["code"]) == ("in-progress", "IMP")
    assert stay["reasonCode"] == [{"text": "open bowel surgery"}]
    bed = next(each for each in resources(first, "Location") if each["name"] == "12A")
    assert stay["location"] == [
        {"location": {"reference": address_of(first, bed)}, "status": "active"}
    ]
    assert bed["physicalType"]["coding"][0]["code"] == "bd"


def test_an_order_says_how_many_breaths_in_how_many_hours_and_by_whom(first: Json) -> None:
    order = the(first, "ServiceRequest")
    assert (order["status"], order["intent"]) == ("active", "order")
    assert order["quantityQuantity"]["value"] == 12
    assert order["quantityQuantity"]["code"] == "{breaths}"
    assert order["occurrenceTiming"]["repeat"] == {
        "boundsPeriod": {"start": "2026-03-06T14:00:00Z", "end": "2026-03-09T13:00:00Z"},
        "frequency": 1,
        "period": 2,
        "periodUnit": "h",
    }
    assert order["requester"] == {"display": "Dr T. Quill"}


@pytest.mark.parametrize(
    ("until", "resumed", "status"),
    [
        ("", "", "on-hold"),
        (", until: 2026-03-09 05:00", "", "on-hold"),
        (", until: 2026-03-08 05:00", "", "active"),
        ("", "resume", "active"),
    ],
)
def test_an_order_is_on_hold_while_a_hold_is_in_force(
    until: str, resumed: str, status: str
) -> None:
    text = FULL.replace(
        ", until: 2026-03-08 05:00, note: Dr Quill until", f"{until}, note: Dr Quill until"
    )
    text = text.replace("what: resume", f"what: {resumed or 'note'}")
    assert resources(bundle_of(log_of(text)), "ServiceRequest")[0]["status"] == status


def test_an_order_that_states_no_amount_has_none(full: Json) -> None:
    order = resources(full, "ServiceRequest")[1]
    assert "quantityQuantity" not in order
    repeat = {"boundsPeriod": {"start": "2026-03-07T12:00:00Z"}}
    assert order["occurrenceTiming"] == {"repeat": repeat}
    assert len(resources(full, "Goal")) == 1


def test_an_order_that_changed_is_two_and_the_second_replaces_the_first() -> None:
    bundle = bundle_of(log_of(CHANGED))
    _, before, after = resources(bundle, "ServiceRequest")
    first, second = address_of(bundle, before), address_of(bundle, after)
    assert "replaces" not in before
    assert after["replaces"] == [{"reference": first}]
    assert (before["status"], after["status"]) == ("completed", "active")
    lifecycles = [each["lifecycleStatus"] for each in resources(bundle, "Goal")[1:]]
    assert lifecycles == ["completed", "active"]
    assert after["occurrenceTiming"]["repeat"]["boundsPeriod"] == {"start": "2026-03-08T05:00:00Z"}
    goals = [
        (each["addresses"][0]["reference"], target(each, "exercise")["detailQuantity"]["value"])
        for each in resources(bundle, "Goal")[1:]
    ]
    assert goals == [(first, 900), (second, 700)]
    early, _, late = resources(bundle, "Observation", "exercise")
    assert (early["basedOn"], late["basedOn"]) == ([{"reference": first}], [{"reference": second}])


def test_the_goal_has_the_volume_the_hold_and_the_patients_own_limits(first: Json) -> None:
    goal, order = the(first, "Goal"), the(first, "ServiceRequest")
    assert goal["addresses"] == [{"reference": address_of(first, order)}]
    assert target(goal, "exercise")["detailQuantity"] == {"value": 1500, **ML}
    assert target(goal, "hold")["detailQuantity"]["value"] == 4
    ranges = {
        code: {end: each["value"] for end, each in target(goal, code)["detailRange"].items()}
        for code in ("59408-5", "9279-1", "8867-4", "8310-5")
    }
    assert ranges == {
        "59408-5": {"low": 90, "high": 96},
        "9279-1": {"low": 10, "high": 28},
        "8867-4": {"low": 45, "high": 125},
        "8310-5": {"high": 38.4},
    }
    usual = the(first, "Observation", "usual-symptoms")
    assert {codes_of(each).pop() for each in usual["component"]} == {
        "symptom-cough",
        "symptom-confused",
    }
    comfort = the(first, "Observation", "comfort-care")
    assert comfort["valueBoolean"] is False
    assert comfort["basedOn"] == goal["addresses"]


def test_facts_of_the_patient_stand_in_resources_of_their_own(first: Json) -> None:
    assert the(first, "Observation", "8302-2")["valueQuantity"]["value"] == 162
    weight = the(first, "Observation", "29463-7")
    assert (weight["valueQuantity"]["value"], weight["valueQuantity"]["code"]) == (70.5, "kg")
    unknown = weight["_effectiveDateTime"]["extension"][0]
    assert unknown["url"] == "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
    assert unknown["valueCode"] == "unknown"
    assert the(first, "Observation", "baseline")["valueQuantity"] == {"value": 1900, **ML}
    assert the(first, "Observation", "planned-discharge")["valueDateTime"] == "2026-03-10"
    assert the(first, "Procedure", "387713003")["performedDateTime"] == "2026-03-05"
    assert the(first, "Flag", "precautions")["code"]["text"] == "flat, spine not cleared"


def test_device_and_teaching_say_when_or_that_it_was_done_or_not(full: Json) -> None:
    known, without_time = resources(full, "DeviceUseStatement")
    assert known["status"] == "active"
    assert known["timingPeriod"] == {"start": "2026-03-06T14:20:00Z"}
    (device,) = known["contained"]
    assert known["device"] == {"reference": f"#{device['id']}"}
    scale, labelled = device["property"]
    assert scale["valueQuantity"] == [{"value": 2500, **ML}]
    assert codes_of({"code": labelled["valueCode"][0]}) == {"yes"}
    assert without_time["status"] == "active"
    assert "timingPeriod" not in without_time
    taught, taught_some_time = resources(full, "Procedure", "taught")
    assert (taught["status"], taught["performedDateTime"]) == ("completed", "2026-03-06T14:30:00Z")
    assert (taught_some_time["status"], "performedDateTime" in taught_some_time) == (
        "completed",
        False,
    )
    assert the(full, "Procedure", "shown-back")["status"] == "not-done"


def test_an_exercise_names_its_order_its_signs_and_who_saw_it(first: Json) -> None:
    row = the(first, "Observation", "exercise")
    assert row["effectivePeriod"] == {
        "start": "2026-03-07T23:40:00Z",
        "end": "2026-03-07T23:50:00Z",
    }
    assert row["valueQuantity"] == {"value": 1100, **ML}
    assert part(row, "breaths")["valueInteger"] == 8
    assert part(row, "hold")["valueQuantity"]["value"] == 4.5
    assert codes_of({"code": part(row, "flow")["valueCodeableConcept"]}) == {"flow-steady"}
    assert row["performer"] == [{"display": "nurse"}]
    assert codes_of({"code": row["extension"][0]["valueCodeableConcept"]}) == {"position-sitting"}
    assert text_of(row) == "sat up in chair"
    assert row["basedOn"] == [{"reference": address_of(first, the(first, "ServiceRequest"))}]
    named = {each["reference"] for each in row["hasMember"]}
    signs = [each["resource"] for each in first["entry"] if each["fullUrl"] in named]
    values = {
        min(codes_of(each) - {"vital-signs", "survey"}): each.get("valueQuantity", {}).get("value")
        for each in signs
    }
    assert values == {
        "2708-6": 94,
        "9279-1": 18,
        "8867-4": 84,
        "8310-5": 37.1,
        "72514-3": 4,
        **dict.fromkeys(("on-oxygen", "oxygen", "symptoms")),
    }
    by_code = {min(codes_of(each)): each for each in signs}
    assert by_code["on-oxygen"]["valueBoolean"] is True
    assert by_code["oxygen"]["valueString"] == "2 L nasal"
    present = {
        codes_of(each).pop(): each["valueBoolean"] for each in by_code["symptoms"]["component"]
    }
    assert present == {"symptom-cough": True, "symptom-dizzy": True}


def test_an_exercise_without_a_volume_has_no_value_and_the_patient_may_have_seen_it(
    full: Json,
) -> None:
    row = resources(full, "Observation", "exercise")[1]
    assert "valueQuantity" not in row
    assert row["performer"] == [row["subject"]]


def test_every_other_kind_of_row_has_its_own_form(first: Json, full: Json) -> None:
    away, asleep = the(first, "Observation", "away"), the(first, "Observation", "asleep")
    assert (away["valueBoolean"], text_of(away)) == (True, "scan")
    assert asleep["effectivePeriod"] == {
        "start": "2026-03-08T03:00:00Z",
        "end": "2026-03-08T07:30:00Z",
    }
    declined = the(first, "Procedure", "declined")
    assert (declined["status"], declined["statusReason"]) == ("not-done", {"text": "too sore"})
    assert declined["performedDateTime"] == "2026-03-08T01:00:00Z"
    assert declined["performer"] == [{"actor": {"display": "aide"}}]
    (pain,) = (
        each
        for each in first["entry"]
        if each["fullUrl"] == declined["reasonReference"][0]["reference"]
    )
    assert pain["resource"]["valueQuantity"]["value"] == 7
    told = the(first, "Communication")
    assert (told["status"], told["sent"]) == ("completed", "2026-03-08T01:10:00Z")
    assert told["payload"] == [{"contentString": "Dr Quill told"}]
    about = [codes_of({"code": each}).pop() for each in told["reasonCode"]]
    assert about == ["about-dizzy", "about-pain"]
    assert (told["sender"], len(told["about"])) == ({"display": "nurse"}, 1)
    held = the(first, "Observation", "held")
    assert held["valueString"] == "Dr Quill until the scan"
    assert held["effectivePeriod"]["end"] == "2026-03-08T08:00:00Z"
    assert the(first, "Observation", "resumed")["effectiveDateTime"] == "2026-03-08T08:10:00Z"
    settled = the(first, "Observation", "settled")
    assert codes_of({"code": part(settled, "about")["valueCodeableConcept"]}) == {"about-dizzy"}
    assert the(first, "Observation", "note")["valueString"] == "asked for water"
    seen = the(first, "Observation", "seen")
    assert len(seen["hasMember"]) == 3
    assert the(full, "Observation", "left")["valueString"] == "to ward 4"


BAD = FULL.replace("goal_ml: 1500", "goal_ml: lots").replace("every_h: 2", "every_h: often")
BAD = BAD.replace("weight_kg: 70.5", "weight_kg: heavy").replace("flow: steady", "flow: odd")
BAD = BAD.replace("spo2: 94", "spo2: 9x").replace("taught: 2026-03-06 10:30", "taught: Monday-ish")
BAD = BAD.replace("born: 1958-04-02", "born: 1958-04-32").replace("bed: 12A", 'bed: "#REF!"')
BAD = BAD.replace("surgery_on: 2026-03-05", "surgery_on: last week")


def test_what_cannot_be_read_is_absent_with_the_reason_and_never_a_blank() -> None:
    log = log_of(BAD)
    bundle = bundle_of(log)
    weight = the(bundle, "Observation", "29463-7")
    assert weight["dataAbsentReason"]["coding"][0]["code"] == "error"
    goal = target(the(bundle, "Goal"), "exercise")["detailQuantity"]
    assert goal["extension"][0]["valueCode"] == "error"
    order = resources(bundle, "ServiceRequest")[0]["occurrenceTiming"]
    assert order["extension"][0]["valueCode"] == "error"
    patient = resources(bundle, "Patient")[0]
    assert patient["_birthDate"]["extension"][0]["valueCode"] == "error"
    bed = resources(bundle, "Encounter")[0]["location"][0]["location"]
    assert bed["extension"][0]["valueCode"] == "error"
    surgery = the(bundle, "Procedure", "387713003")["_performedDateTime"]
    assert surgery["extension"][0]["valueCode"] == "error"
    row = resources(bundle, "Observation", "exercise")[0]
    assert part(row, "flow")["dataAbsentReason"]["coding"][0]["code"] == "error"
    lost = resources(bundle, "Observation", "2708-6")[0]
    assert lost["dataAbsentReason"]["coding"][0]["code"] == "error"
    assert "valueQuantity" not in lost
    assert [each for resource in resources(bundle) for each in all_find(resource)] == []


def test_what_no_element_can_say_is_named_by_a_finding() -> None:
    (found,) = not_in_a_bundle(log_of(BAD))
    assert (found.code, found.place.line, found.field) == ("fhir-not-written", 6, "taught")


def test_a_bed_that_was_left_is_completed_and_the_new_one_active() -> None:
    bundle = bundle_of(checked(MESSY))
    moved = [each for each in resources(bundle, "Encounter") if len(each.get("location", ())) > 1]
    assert moved
    for stay in moved:
        *left, now = stay["location"]
        assert {each["status"] for each in left} == {"completed"}
        assert (now["status"], now["period"]["start"]) == ("active", left[-1]["period"]["end"])


@pytest.mark.parametrize("log", [NIGHT, MESSY, SPRING, AUTUMN], ids=lambda each: each.name)
def test_the_same_log_gives_the_same_bytes(log: Any) -> None:
    first, again = (collection(default_codes(), SYSTEM, checked(log)) for _ in range(2))
    assert first == again


def addresses(log: Log, system: str = SYSTEM) -> list[str]:
    bundle = json.loads(collection(default_codes(), system, log))
    return [each["fullUrl"] for each in bundle["entry"] if "partOf" not in each["resource"]]


def test_no_two_resources_have_one_address() -> None:
    for log in (checked(NIGHT), checked(MESSY), log_of(FULL)):
        assert len(set(addresses(log))) == len(addresses(log))


def test_a_row_is_the_same_after_a_correction_and_another_at_another_time() -> None:
    before = addresses(log_of(FULL))
    assert addresses(log_of(FULL.replace("volume_ml: 1100", "volume_ml: 1200"))) == before
    assert addresses(log_of("# above\n" + FULL)) == before
    moved = set(addresses(log_of(FULL.replace("19:40", "19:41")))) ^ set(before)
    assert len(moved) == 2 * 9  # the row and its eight signs
    assert set(addresses(log_of(FULL), "urn:oid:2.999.2")).isdisjoint(before[2:])


def test_two_rows_of_one_kind_and_minute_are_two() -> None:
    row = '- {patient: "10443", at: 05:50, breaths: 6}\n'
    added = set(addresses(log_of(FULL + row))) - set(addresses(log_of(FULL)))
    assert len(added) == 1


def test_a_row_does_not_become_another_with_the_units_name() -> None:
    log = log_of(FULL)
    unit: Unit = replace(log.unit, name="Harbour 4")
    kept = set(addresses(log)) & set(addresses(replace(log, unit=unit)))
    assert len(kept) == len(addresses(log)) - 2  # the ward and its shift


def every_shape(logs: list[Log]) -> list[Json]:
    """One of each form that the resources of the logs have."""
    shapes: dict[str, Json] = {}
    for log in logs:
        for resource in resources(bundle_of(log)):
            shapes.setdefault(repr((resource["resourceType"], shape_of(resource))), resource)
    return list(shapes.values())


def test_no_oracle_finds_anything_in_what_is_written() -> None:
    """Every resource of the sample logs by the quickest of them, every form of one by all four."""
    logs = [*map(checked, (SHIFTS[-1], MESSY, SPRING, AUTUMN)), log_of(FULL)]
    written = [resource for log in logs for resource in resources(bundle_of(log))]
    assert [each for resource in written for each in fhirkit_finds(resource)] == []
    shapes = every_shape(logs)
    assert len(written) > 1_000
    assert len(shapes) > 100
    assert [each for resource in shapes for each in all_find(resource)] == []


def test_a_bundle_itself_is_as_the_schema_and_the_rules_want_it(full: Json) -> None:
    assert all_find({**full, "entry": full["entry"][:3]}) == []


def test_no_code_of_a_standard_has_a_display_that_is_not_the_standards(full: Json) -> None:
    """A server may refuse a wrong one; what a code means here stands in `text`."""
    coded = [each["code"] for each in resources(full) if "code" in each]
    assert all(each["text"] for each in coded)
    assert '"display"' not in json.dumps([each["coding"] for each in coded])


def test_every_reference_leads_to_a_resource_of_the_bundle() -> None:
    for log in (log_of(FULL), checked(NIGHT), checked(MESSY)):
        bundle = bundle_of(log)
        there = {each["fullUrl"] for each in bundle["entry"]} | {"#device"}
        text = json.dumps(bundle)
        named = {each.split('"')[0] for each in text.split('"reference": "')[1:]}
        assert named - there == set()
