"""Bundles as other systems write them, from the text of HL7 FHIR 4.0.1 alone.

What is expected is typed by hand from the standard and from the log's contract, not taken from a
run. All people, places and numbers are invented.
"""

from typing import Any

import pytest

from handoff.model.findings import Severity, text
from handoff.model.ward import Log, Symptom, What
from tests.support.bundles import (
    ABSENT,
    KINDS,
    LOINC,
    NOT_KNOWN,
    NUMBERS,
    OWN,
    PATIENT,
    PLACES,
    SNOMED,
    UCUM,
    WARD,
    Resource,
    amount,
    as_text,
    bed,
    breaths,
    bundle,
    checked,
    concept,
    exercise,
    found_in,
    goal,
    night,
    observed,
    order,
    patient,
    raw_log_of,
    saturation,
    shift,
    stay,
    timing,
    to,
    ward,
)

HERE = "https://record.example/fhir"
ELSEWHERE = "https://other.example/r4"
FLAGS = "http://terminology.hl7.org/CodeSystem/flag-category"
OPTIONS = {
    "unit": "Harbour 3 East",
    "time_zone": "America/Halifax",
    "shift": "2026-03-07T19:00/2026-03-08T07:00",
}


def rows(document: Any, **given: str | None) -> list[dict[str, str]]:
    """The cells of each entry record, without the patient's bed."""
    return [dict(each.cells) for each in raw_log_of(document, **given).entries]


def facts(document: Any) -> list[dict[str, str]]:
    return [dict(each.cells) for each in raw_log_of(document).patients]


def log_of(document: Any, **given: str | None) -> Log:
    log, findings = checked(document, **given)
    assert log is not None, [text(each) for each in findings]
    return log


def codes_of(document: Any, **given: str | None) -> list[str]:
    return [each.code for each in checked(document, **given)[1]]


def addressed(*both: tuple[str, Resource], kind: str = "searchset", **others: Any) -> Resource:
    """A Bundle of resources with the address of their server."""
    entries = [
        {"fullUrl": f"{server}/{each['resourceType']}/{each['id']}", "resource": each}
        for server, each in both
    ]
    return {"resourceType": "Bundle", "type": kind, "entry": entries, **others}


# A ward from another hand.


def another_ward() -> Resource:
    """Nested places, a patient with two records, a device inside its use, references by address, by
    identifier and by version, seven digits of a second, times in UTC across the clock change.
    """
    building = ward(id="building", name="East wing", physicalType=concept("bu", PLACES))
    floor = ward(partOf=to("Location/building"))
    room = bed("12", "room", physicalType=concept("ro", PLACES), partOf=to("Location/ward"))
    mine = bed("12A", partOf=to("Location/room"))
    odile = patient(
        identifier=[
            {"system": NUMBERS, "value": "9907", "use": "old"},
            {"system": NUMBERS, "value": "10442"},
            {"system": "urn:oid:2.999.7", "value": "A-1"},
        ],
        name=[
            {"use": "maiden", "family": "Fern", "given": ["Odile"]},
            {"use": "official", "family": "Larkspur", "given": ["Odile", "Marie"]},
        ],
        gender="female",
    )
    first = patient(
        "9907", "odile-first", link=[{"type": "replaced-by", "other": to("Patient/odile")}]
    )
    by_number = {"identifier": {"system": NUMBERS, "value": "10442"}}
    resources = [
        building,
        floor,
        room,
        mine,
        odile,
        first,
        stay(
            to(f"{HERE}/Patient/odile"),
            location=[
                {"location": to("Location/ward"), "status": "active"},
                {"location": to("Location/bed"), "status": "active"},
            ],
            reasonCode=[{"text": "open bowel surgery"}],
        ),
        stay(to("Patient/odile"), "Location/room", id="earlier", status="finished"),
        order(
            to("Patient/odile/_history/3"),
            requester={"display": "Dr T. Quill"},
            occurrenceTiming=timing("2026-03-06T14:00:00.1234567Z", period=2),
        ),
        {
            "resourceType": "DeviceUseStatement",
            "id": "use",
            "status": "active",
            "subject": by_number,
            "timingPeriod": {"start": "2026-03-06T10:20:00-04:00"},
            "device": to("#device"),
            "contained": [
                {
                    "resourceType": "Device",
                    "id": "device",
                    "type": concept("device"),
                    "property": [
                        {"type": concept("scale"), "valueQuantity": [amount(2.5, "L")]},
                        {"type": concept("labelled"), "valueCode": [concept("yes")]},
                    ],
                }
            ],
        },
        {
            "resourceType": "Procedure",
            "id": "surgery",
            "status": "completed",
            "category": concept("387713003", SNOMED),
            "subject": by_number,
            "performedDateTime": "2026-03-06T02:30:00Z",
        },
        exercise("before", subject=by_number, effectiveDateTime="2026-03-08T05:59:59.9999999Z"),
        exercise(
            "after",
            subject=to("Patient/odile"),
            effectivePeriod={"start": "2026-03-08T06:01:00Z", "end": "2026-03-08T06:10:00Z"},
            effectiveDateTime="",
            performer=[to("Patient/odile")],
        ),
    ]
    return addressed(*((HERE, each) for each in resources))


def test_a_ward_from_another_hand_is_read() -> None:
    log = log_of(another_ward(), **OPTIONS)
    [odile] = log.patients
    assert (odile.id, odile.name, odile.bed) == ("10442", "Larkspur, Odile Marie", "12A")
    assert (odile.sex, odile.reason) == ("female", "open bowel surgery")
    assert str(odile.surgery_on) == "2026-03-05"  # 02:30 UTC is still the evening before in Halifax
    assert odile.order is not None
    assert (odile.order.breaths, odile.order.every_h, odile.order.by) == (10, 2, "Dr T. Quill")
    assert odile.order.start.isoformat() == "2026-03-06T14:00:00.123456+00:00"
    assert odile.device_scale_ml == 2500
    assert odile.device_labelled is True
    before, after = sorted(log.entries, key=lambda each: each.at)
    # 06:00 UTC is 02:00 in Halifax, when the clock is put forward to 03:00.
    assert before.at.isoformat() == "2026-03-08T05:59:59.999999+00:00"
    assert after.until is not None
    assert (after.until - before.at).total_seconds() == pytest.approx(600, abs=1)
    assert after.seen_by == "patient"


def test_what_is_found_in_that_ward() -> None:
    assert sorted(found_in(checked(another_ward(), **OPTIONS)[1]), key=str) == [
        ("DeviceUseStatement/use.contained.property[0]", "fhir-converted"),
        ("Patient/odile-first.link", "fhir-replaced"),
        (None, "fhir-other-resources"),
    ]


def test_rows_of_a_replaced_record_stay_with_its_own_number() -> None:
    """The program merges no two records: what stands under the old number is no row of the new."""
    document = night(
        patient("9907", "first", link=[{"type": "replaced-by", "other": PATIENT}]),
        exercise(subject=to("Patient/first")),
    )
    log = log_of(document)
    assert log.entries == ()
    assert [each.patient_id for each in log.set_aside] == ["9907"]
    assert "fhir-replaced" in codes_of(document)


def test_a_bundle_without_a_shift_takes_unit_and_times_from_the_options() -> None:
    assert "missing-time-zone" in codes_of(another_ward())
    log = log_of(another_ward(), **OPTIONS)
    assert (log.unit.name, str(log.unit.time_zone)) == ("Harbour 3 East", "America/Halifax")


# Versions, repeats and pages that overlap.


def test_two_pages_that_overlap_count_a_resource_once_and_by_its_last_version() -> None:
    first = exercise("one", meta={"lastUpdated": "2026-03-08T01:00:00Z"}, component=[breaths(8)])
    amended = exercise(
        "one",
        status="amended",
        meta={"lastUpdated": "2026-03-08T02:00:00Z"},
        component=[breaths(9)],
    )
    wrong = exercise("two", meta={"lastUpdated": "2026-03-08T01:00:00Z"})
    gone = exercise("two", status="entered-in-error", meta={"lastUpdated": "2026-03-08T03:00:00Z"})
    pages = [*WARD, amended, gone, *WARD, first, wrong]  # the older page stands last
    document = addressed(*((HERE, each) for each in pages))
    assert [each["breaths"] for each in rows(document)] == ["9"]
    findings = sorted(codes_of(document))
    assert findings == [*["fhir-entered-in-error"], *["fhir-same"] * 6, *["fhir-versions"] * 2]


def test_a_page_without_addresses_repeats_the_one_with_them() -> None:
    document = addressed(*((HERE, each) for each in (*WARD, exercise())))
    document["entry"].append({"resource": exercise()})
    assert len(rows(document)) == 1
    assert codes_of(document) == ["fhir-same"]


def test_without_a_time_of_change_the_version_that_stands_last_counts() -> None:
    document = night(exercise(), exercise(component=[breaths(3)]))
    assert [each["breaths"] for each in rows(document)] == ["3"]


@pytest.mark.parametrize("kind", ["history", "batch-response", "transaction-response", "message"])
def test_a_bundle_of_old_versions_or_answers_is_refused(kind: str) -> None:
    assert codes_of(bundle(*WARD, kind=kind)) == ["fhir-bundle-type"]


# Patients and their numbers.


def rosa(number: str = "10557", own_id: str = "rosa", **others: Any) -> Resource:
    return patient(
        number,
        own_id,
        **{"name": [{"text": "Fernhill, Rosa"}], "birthDate": "1949-11-30", **others},
    )


def test_two_patients_with_one_number_lose_all_their_rows() -> None:
    document = night(rosa("10442"), exercise(), exercise("hers", subject=to("Patient/rosa")))
    log = log_of(document)
    assert log.entries == ()
    assert len(log.set_aside) == 2
    assert "one-id-two-people" in codes_of(document)


def test_a_patient_with_two_numbers_is_not_known() -> None:
    both = [{"system": NUMBERS, "value": each} for each in ("10442", "10443")]
    log, findings = checked(night(rosa(identifier=both), exercise(subject=to("Patient/rosa"))))
    assert log is not None
    assert log.entries == ()
    numbers = [each for each in findings if each.code == "fhir-patient-number"]
    assert [(each.place.at, each.raw) for each in numbers] == [
        ("Patient/rosa.identifier", "10442, 10443")
    ]


def test_patient_1_of_two_servers_are_two_people() -> None:
    one, other = patient("10442", "1"), rosa("10557", "1")
    mine, hers = exercise("a", subject=to("Patient/1")), exercise("a", subject=to("Patient/1"))
    document = addressed(
        *((HERE, each) for each in (ward(), shift(), one, mine)),
        *((ELSEWHERE, each) for each in (other, hers)),
    )
    assert [each["patient_id"] for each in rows(document)] == ["10442", "10557"]
    places = [str(raw_log_of(document).row_place(each)) for each in raw_log_of(document).entries]
    assert len(set(places)) == 2


def test_a_reference_to_a_patient_of_another_server_is_not_this_one() -> None:
    document = addressed(
        *((HERE, each) for each in WARD),
        (HERE, exercise(subject=to(f"{ELSEWHERE}/Patient/odile"))),
    )
    assert [each.broken is not None for each in raw_log_of(document).entries] == [True]


@pytest.mark.parametrize("number", ["10442", "10999"])
def test_a_patient_inside_a_resource_counts_by_a_number_that_one_patient_has(number: str) -> None:
    inside = {
        "resourceType": "Patient",
        "id": "p",
        "identifier": [{"system": NUMBERS, "value": number}],
    }
    document = night(exercise(subject=to("#p"), contained=[inside]))
    log = log_of(document)
    assert len(log.entries) == (number == "10442")
    assert log.counts.read == 1


def test_without_a_system_the_one_number_marked_as_of_the_record_is_taken() -> None:
    two: list[Resource] = [
        {"system": "urn:oid:2.999.7", "value": "A-1"},
        {"system": "urn:oid:2.999.1", "value": "10442", "type": concept("MR", KINDS)},
    ]
    parts = bundle(ward(), shift(), patient(identifier=two), bed(), stay(), order(), exercise())
    assert [each["patient_id"] for each in rows(parts, patient_system=None)] == ["10442"]
    two[0]["type"] = concept("MR", KINDS)
    assert "fhir-patient-number" in [
        each.code for each in raw_log_of(parts, patient_system=None).findings
    ]


@pytest.mark.parametrize(
    "others", [{"deceasedBoolean": True}, {"deceasedDateTime": "2026-03-07T20:00:00Z"}]
)
def test_a_patient_who_has_died_is_found(others: dict[str, Any]) -> None:
    assert "fhir-inactive" in codes_of(bundle(ward(), shift(), patient(**others), bed(), stay()))


def test_two_stays_in_two_beds_leave_the_bed_unknown() -> None:
    document = night(bed("14", "bed-14"), stay(where="Location/bed-14", id="stay-2"))
    log = log_of(document)
    assert log.patients[0].bed == ""
    assert "patient-disagrees" in codes_of(document)


def test_a_patient_who_moved_between_rows_is_in_the_last_bed() -> None:
    moved = "2026-03-08T01:00:00-04:00"
    both = [
        {"location": to("Location/bed"), "status": "completed", "period": {"end": moved}},
        {"location": to("Location/bed-14"), "status": "active", "period": {"start": moved}},
    ]
    parts = (ward(), shift(), patient(), bed(), bed("14", "bed-14"), stay(location=both), order())
    late = exercise("late", effectiveDateTime="2026-03-08T05:30:00-03:00")
    log = log_of(bundle(*parts, exercise(), late))
    assert log.patients[0].bed == "14"
    assert log.patients[0].moved is not None
    assert log.patients[0].moved.beds == ("12A",)
    assert log_of(bundle(*parts, exercise())).patients[0].bed == "14"


# Orders.


def test_every_two_hours_is_read() -> None:
    [odile] = log_of(bundle(*WARD[:5], order(occurrenceTiming=timing(period=2)))).patients
    assert odile.order is not None
    assert (odile.order.breaths, odile.order.every_h) == (10, 2)


@pytest.mark.parametrize(
    "other",
    [
        {"occurrenceTiming": timing(when=["PCV"])},
        {"occurrenceTiming": timing(frequency=10)},
        {"occurrenceTiming": timing(count=6)},
        {"occurrenceTiming": timing(frequencyMax=2)},
        {"occurrenceTiming": timing(timeOfDay=["08:00:00"])},
        {"occurrenceTiming": timing(dayOfWeek=["mon"])},
        {"occurrenceTiming": timing(period=90, periodUnit="min")},
        {"occurrenceTiming": timing(period=1, periodUnit="d")},
        {"occurrenceTiming": {"code": {"text": "every hour"}}},
        {"occurrenceTiming": {"event": ["2026-03-07T20:00:00-04:00"]}},
        {"asNeededBoolean": True},
        {"asNeededCodeableConcept": {"text": "cough"}},
        {"occurrenceDateTime": "2026-03-07T20:00:00-04:00"},
        {"quantityQuantity": None, "quantityRange": {"low": amount(5, "{breaths}")}},
    ],
)
def test_any_other_timing_leaves_how_much_is_due_unknown(other: dict[str, Any]) -> None:
    written = {name: each for name, each in order(**other).items() if each is not None}
    found = raw_log_of(bundle(*WARD[:5], written))
    [record] = [each for each in found.patients if each.resource == "ServiceRequest/order"]
    assert "fhir-timing" in {each.code for each in record.lost.values()}
    assert "order_every_h" not in record.cells or "order_breaths" not in record.cells


@pytest.mark.parametrize("unit", ["{sessions}", "1", "{breaths}/h", "mL"])
def test_ten_of_something_else_are_not_ten_breaths(unit: str) -> None:
    found = raw_log_of(bundle(*WARD[:5], order(quantityQuantity=amount(10, unit))))
    assert [each.code for each in found.findings] == ["fhir-unit"]
    assert "order_breaths" not in found.patients[-1].cells


def test_two_orders_in_force_at_once_leave_how_much_is_due_unknown() -> None:
    second = order(
        own_id="second",
        quantityQuantity=amount(5, "{breaths}"),
        occurrenceTiming=timing("2026-03-07T13:00:00-04:00"),
    )
    found = raw_log_of(night(second))
    records = {each.resource: each for each in found.patients}
    assert records["ServiceRequest/order"].cells["order_breaths"] == "10"
    assert "order_breaths" in records["ServiceRequest/second"].lost


@pytest.mark.parametrize("is_ended", [True, False])
def test_an_order_that_ends_or_is_replaced_where_the_next_begins_is_a_period(
    *, is_ended: bool
) -> None:
    start = "2026-03-07T13:00:00-04:00"
    until = {"boundsPeriod": {"start": "2026-03-06T10:00:00-04:00", "end": start}}
    first = (
        order(status="completed", occurrenceTiming={"repeat": {**timing()["repeat"], **until}})
        if is_ended
        else order()
    )
    replaces: Resource = {} if is_ended else {"replaces": [to("ServiceRequest/order")]}
    second = order(
        own_id="second",
        quantityQuantity=amount(5, "{breaths}"),
        occurrenceTiming=timing(start),
        **replaces,
    )
    found = [each for each in facts(bundle(*WARD[:5], first, second)) if "order_start" in each]
    assert [(each["order_start"], each["order_breaths"]) for each in found] == [
        ("2026-03-06T10:00:00-04:00", "10"),
        (start, "5"),
    ]


@pytest.mark.parametrize("status", ["active", "draft"])
def test_an_order_that_was_completed_held_until_one_in_force_replaced_it(status: str) -> None:
    start = "2026-03-07T13:00:00-04:00"
    second = order(
        own_id="second",
        status=status,
        occurrenceTiming=timing(start),
        replaces=[to("ServiceRequest/order")],
    )
    target = {"measure": concept("exercise"), "detailQuantity": amount(1500, "mL")}
    of_first = {**goal(target), "lifecycleStatus": "completed"}
    [odile] = log_of(bundle(*WARD[:5], order(status="completed"), second, of_first)).patients
    goals = [each.goal_ml for each in odile.orders]
    assert goals == ([1500, None] if status == "active" else [])


@pytest.mark.parametrize(
    "other",
    [
        {"doNotPerform": True},
        {"status": "revoked"},
        {"status": "draft"},
        {"status": "entered-in-error"},
        {"status": "completed"},
        {"intent": "proposal"},
        {"intent": "plan"},
    ],
)
def test_what_is_no_order_in_force_gives_no_order_and_its_goal_none_either(
    other: dict[str, Any],
) -> None:
    target = {"measure": concept("exercise"), "detailQuantity": amount(1500, "mL")}
    document = bundle(*WARD[:5], order(**other), goal(target))
    [odile] = log_of(document).patients
    assert odile.order is None
    assert codes_of(document)


def test_an_order_not_to_do_it_is_an_error() -> None:
    _, findings = checked(bundle(*WARD[:5], order(doNotPerform=True)))
    assert [each.severity for each in findings] == [Severity.ERROR]


def test_an_order_on_hold_with_its_hold_is_read_as_an_order() -> None:
    held = observed(concept("held"), "held", valueString="theatre")
    document = bundle(*WARD[:5], order(status="on-hold"), held)
    log = log_of(document)
    assert log.patients[0].order is not None
    assert [each.what for each in log.entries] == [What.HOLD]
    assert codes_of(document) == []


def test_goal_hold_and_limits_are_of_the_order_that_the_goal_names() -> None:
    document = night(
        goal(
            {"measure": concept("exercise"), "detailQuantity": amount(1500, "mL")},
            {"measure": concept("hold"), "detailQuantity": amount(5, "s")},
            {
                "measure": concept("59408-5", LOINC),
                "detailRange": {"low": amount(92, "%"), "high": amount(96, "%")},
            },
            {
                "measure": concept("9279-1", LOINC),
                "detailRange": {"low": amount(10, "/min"), "high": amount(24, "{breaths}/min")},
            },
            {
                "measure": concept("8867-4", LOINC),
                "detailRange": {"low": amount(50, "/min"), "high": amount(120, "/min")},
            },
            {"measure": concept("8310-5", LOINC), "detailRange": {"high": amount(100.4, "[degF]")}},
        )
    )
    [odile] = log_of(document).patients
    assert odile.order is not None
    assert (odile.order.goal_ml, odile.order.hold_s) == (1500, 5)
    assert (odile.order.spo2_min, odile.order.spo2_max) == (92, 96)
    assert (odile.order.resp_rate_min, odile.order.resp_rate_max) == (10, 24)
    assert (odile.order.pulse_min, odile.order.pulse_max, odile.order.temp_max) == (50, 120, 38)


def test_a_goal_that_is_not_active_sets_none() -> None:
    target = {"measure": concept("exercise"), "detailQuantity": amount(1500, "mL")}
    document = night(goal(target, lifecycleStatus="completed"))
    order_read = log_of(document).patients[0].order
    assert order_read is not None
    assert order_read.goal_ml is None
    assert codes_of(document) == ["fhir-status"]


def test_two_goals_that_disagree_leave_the_goal_unknown() -> None:
    one, other = (
        goal({"measure": concept("exercise"), "detailQuantity": amount(each, "mL")}, id=f"g{each}")
        for each in (1000, 1500)
    )
    assert "patient-disagrees" in codes_of(night(one, other))


# Rows.


def test_an_exercise_takes_the_signs_that_it_names_and_no_others() -> None:
    document = night(
        exercise(hasMember=[to("Observation/spo2")]),
        saturation(94),
        observed(concept("8867-4", LOINC), "pulse", valueQuantity=amount(92, "{beats}/min")),
        observed(
            concept("8310-5", LOINC),
            "temp",
            effectiveDateTime="2026-03-07T23:40:00Z",
            valueQuantity=amount(37.2, "Cel"),
        ),
    )
    assert rows(document) == [
        {
            "patient_id": "10442",
            "what": "exercise",
            "at": "2026-03-07T19:40:00-04:00",
            "breaths": "8",
            "volume_ml": "1100",
            "spo2": "94",
        },
        {
            "patient_id": "10442",
            "at": "2026-03-07T19:40:00-04:00",
            "pulse": "92",
            "temp_c": "37.2",
        },
    ]


def test_a_named_sign_of_another_time_is_a_row_of_its_own() -> None:
    later = "2026-03-07T19:55:00-04:00"
    document = night(
        exercise(hasMember=[to("Observation/spo2")]), saturation(effectiveDateTime=later)
    )
    assert [each.get("spo2") for each in rows(document)] == [None, "94"]
    assert rows(document)[1]["at"] == later


def test_two_values_of_one_sign_at_one_instant_are_two_rows() -> None:
    document = night(saturation(94, "a"), saturation(91, "b"))
    assert [each["spo2"] for each in rows(document)] == ["94", "91"]


def test_every_kind_of_row_is_read() -> None:
    span: Resource = {
        "effectivePeriod": {"start": "2026-03-07T20:00:00-04:00"},
        "effectiveDateTime": "",
    }
    until = {"effectivePeriod": {**span["effectivePeriod"], "end": "2026-03-07T21:00:00-04:00"}}
    away = observed(concept("away"), "away", valueBoolean=True, **{**span, **until})
    declined = {
        "resourceType": "Procedure",
        "id": "declined",
        "status": "not-done",
        "code": concept("declined"),
        "subject": PATIENT,
        "performedDateTime": "2026-03-07T21:30:00-04:00",
        "statusReason": {"text": "too tired"},
        "performer": [{"actor": {"display": "aide"}}],
    }
    told = {
        "resourceType": "Communication",
        "id": "told",
        "status": "completed",
        "category": [concept("told")],
        "subject": PATIENT,
        "sent": "2026-03-07T22:00:00-04:00",
        "payload": [{"contentString": "Dr Quill: SpO2 90"}],
        "reasonCode": [concept("about-oxygen"), concept("about-chest-pain")],
    }
    settled = observed(
        concept("settled"),
        "settled",
        effectiveDateTime="2026-03-07T23:00:00-04:00",
        valueString="Dr Quill: over",
        component=[{"code": concept("about"), "valueCodeableConcept": concept("about-oxygen")}],
    )
    others = [
        observed(
            concept(code),
            code,
            valueString=words,
            effectiveDateTime=f"2026-03-07T23:{minute}:00-04:00",
        )
        for code, words, minute in (
            ("held", "theatre", "10"),
            ("resumed", "Dr Quill", "20"),
            ("note", "asleep early", "30"),
            ("left", "to Harbour 2", "40"),
        )
    ]
    log, findings = checked(night(away, declined, told, settled, *others))
    assert log is not None
    assert [each.code for each in findings if each.severity is Severity.ERROR] == []
    assert [(each.what, each.note) for each in log.entries] == [
        (What.AWAY, None),
        (What.DECLINED, "too tired"),
        (What.TOLD, "Dr Quill: SpO2 90"),
        (What.SETTLED, "Dr Quill: over"),
        (What.HOLD, "theatre"),
        (What.RESUME, "Dr Quill"),
        (What.NOTE, "asleep early"),
        (What.LEFT, "to Harbour 2"),
    ]
    assert log.entries[1].seen_by == "aide"
    assert log.entries[2].about == ("oxygen", "chest_pain")
    assert log.entries[3].about == ("oxygen",)


def test_what_is_said_not_to_be_so_is_no_row() -> None:
    away = observed(
        concept("away"),
        "away",
        valueBoolean=False,
        effectivePeriod={"start": "2026-03-07T20:00:00-04:00", "end": "2026-03-07T21:00:00-04:00"},
    )
    held = observed(concept("held"), "held", valueBoolean=False)
    log = log_of(night(away, held))
    assert log.entries == ()
    assert len(log.set_aside) == 2


def test_an_absent_symptom_is_no_symptom_and_none_is_one_that_was_asked() -> None:
    parts = [
        {"code": concept("symptom-dizzy"), "valueBoolean": True},
        {"code": concept("symptom-cough"), "valueBoolean": False},
    ]
    asked = [{"code": concept("symptom-none"), "valueBoolean": True}]
    assert (
        rows(night(observed(concept("symptoms"), "s", component=parts)))[0]["symptoms"] == "dizzy"
    )
    assert rows(night(observed(concept("symptoms"), "s", component=asked)))[0]["symptoms"] == "none"
    absent = rows(night(observed(concept("symptoms"), "s", component=parts[1:])))
    assert "symptoms" not in absent[0]


def test_a_symptom_that_is_not_understood_is_lost_and_said() -> None:
    part = {"code": {"text": "chest tightness"}, "valueBoolean": True}
    log, findings = checked(night(observed(concept("symptoms"), "s", component=[part])))
    assert log is not None
    assert [each.unread for each in log.entries] == [("symptoms",)]
    assert any(each.field == "symptoms" and each.severity is Severity.ERROR for each in findings)


def test_symptoms_beside_one_that_is_not_understood_are_read() -> None:
    codes = ({"text": "itching"}, concept("symptom-none"), concept("symptom-chest-pain"))
    parts = [{"code": each, "valueBoolean": True} for each in codes]
    (row,) = log_of(night(observed(concept("symptoms"), "s", component=parts))).entries
    assert (row.signs.symptoms, row.unread) == (frozenset({Symptom.CHEST_PAIN}), ("symptoms",))


@pytest.mark.parametrize(
    ("said", "likely"),
    [
        ({"valueQuantity": {**amount(88, "%"), "comparator": "<"}}, 88),
        ({"valueQuantity": {"value": 84, "unit": "%"}}, 84),
        ({"valueQuantity": amount(0.86, "1")}, 86),
        ({"valueString": "82%"}, 82),
        ({"dataAbsentReason": {**concept("error", ABSENT), "text": "8l"}}, 81),
        ({"dataAbsentReason": {**concept("error", ABSENT), "text": "clip fell off"}}, None),
        ({"dataAbsentReason": {**concept("not-performed", ABSENT), "text": "88"}}, None),
    ],
)
def test_what_stands_in_the_place_of_a_sign_is_a_reason_to_look_and_no_value(
    said: Resource, likely: float | None
) -> None:
    sign = observed(concept("59408-5", LOINC), "s", **said)
    (row,) = log_of(night(exercise(hasMember=[to("Observation/s")]), sign)).entries
    assert (row.signs.spo2, row.likely.spo2) == (None, likely)


def test_facts_added_since_are_read() -> None:
    document = night(
        {
            "resourceType": "Flag",
            "id": "flag",
            "status": "active",
            "code": {**concept("precautions"), "text": "flat, spine not cleared"},
            "subject": PATIENT,
        },
        observed(
            concept("usual-symptoms"),
            "usual",
            basedOn=[to("ServiceRequest/order")],
            component=[{"code": concept("symptom-confused"), "valueBoolean": True}],
        ),
        observed(concept("comfort-care"), "comfort", valueBoolean=True),
        observed(concept("29463-7", LOINC), "weight", valueQuantity=amount(154, "[lb_av]")),
        observed(concept("on-oxygen"), "on", valueBoolean=True),
        observed(concept("oxygen"), "much", valueString="2 L nasal"),
    )
    log = log_of(document)
    [odile] = log.patients
    assert odile.precautions == "flat, spine not cleared"
    assert odile.weight_kg == pytest.approx(69.8532, abs=0.0001)
    assert odile.order is not None
    assert set(odile.order.usual_symptoms) == {"confused"}
    assert odile.order.comfort_care is True
    assert log.entries[0].signs.on_oxygen is True
    assert log.entries[0].signs.oxygen == "2 L nasal"


@pytest.mark.parametrize(
    ("said", "precautions", "unread"),
    [
        ({"code": {"text": "no neck movement"}}, None, True),
        ({"code": concept("17", "https://record.example/flags")}, None, True),
        ({"code": {"text": "old"}, "status": "inactive"}, None, False),
        ({"code": {"text": "wants a visit"}, "category": [concept("admin", FLAGS)]}, None, False),
        ({"code": {"text": "isolation"}, "category": [concept("safety", FLAGS)]}, None, True),
        ({"code": {"text": "cable"}, "subject": to("Location/ward")}, None, False),
        ({"code": concept("low-oxygen")}, None, False),
        ({"code": {**concept("precautions"), "text": "flat"}}, "flat", False),
        ({"code": concept("precautions")}, None, True),
    ],
)
def test_a_flag_of_another_code_may_be_a_precaution(
    said: Resource, precautions: str | None, *, unread: bool
) -> None:
    flag = {"resourceType": "Flag", "id": "f", "status": "active", "subject": PATIENT, **said}
    [odile] = log_of(night(flag)).patients
    assert (odile.precautions, "precautions" in odile.unread) == (precautions, unread)


def test_text_that_looks_like_markup_stays_text_and_hidden_characters_are_refused() -> None:
    marked = exercise(note=[{"text": "<b>ignore</b> all & {{ this }}"}])
    assert log_of(night(marked)).entries[0].note == "<b>ignore</b> all & {{ this }}"
    turned = bundle(ward(), shift(), patient(name=[{"text": "Lark\u202espur"}]), bed(), stay())
    assert "bad-character" in codes_of(turned)


def test_a_value_and_another_or_a_reason_for_none_are_no_value() -> None:
    two = exercise(valueString="1800")
    reason = exercise(dataAbsentReason=concept("not-performed", ABSENT))
    count = {**breaths(8), "valueQuantity": amount(3, "{breaths}")}
    for wrong, name in ((two, "volume_ml"), (reason, "volume_ml")):
        assert "volume_ml" not in rows(night(wrong))[0]
        assert codes_of(night(wrong)) == ["fhir-two-values"], name
    assert "breaths" not in rows(night(exercise(component=[count])))[0]


def test_a_single_element_where_a_list_is_wanted_is_said() -> None:
    document = night(exercise(component=breaths(8)))
    assert found_in(checked(document)[1]) == [("Observation/row.component", "fhir-shape")]
    assert "breaths" not in rows(document)[0]


def test_an_element_that_says_that_it_is_not_known_here_is_lost() -> None:
    beside = {"extension": [{"url": NOT_KNOWN, "valueCode": "error"}]}
    parts = bundle(
        ward(),
        shift(),
        patient(birthDate=None, _birthDate=beside),
        bed(),
        stay(),
        order(quantityQuantity=beside),
        goal({"measure": concept("exercise"), "detailQuantity": beside}),
    )
    del parts["entry"][2]["resource"]["birthDate"]
    log, findings = checked(parts)
    assert log is not None
    assert set(log.patients[0].unread) == {"born", "order_breaths", "goal_ml"}
    assert {each.code for each in findings} >= {"fhir-absent"}


def test_narrative_and_attachments_are_not_read() -> None:
    said = {"status": "generated", "div": "<div>SpO2 70 %, chest pain</div>"}
    binary = {"resourceType": "Binary", "id": "b", "contentType": "text/plain", "data": "U3BP"}
    document = night(exercise(text=said), binary)
    assert rows(document) == rows(night(exercise()))


def test_capacity_measured_in_a_laboratory_is_no_reading_of_the_device() -> None:
    measured = observed(concept("19852-3", LOINC), "lab", valueQuantity=amount(2100, "mL"))
    assert rows(night(measured)) == []
    assert codes_of(night(measured)) == ["fhir-other-resources"]


def test_a_result_that_was_sent_is_never_read_back_as_a_reading() -> None:
    result = observed(concept("best-volume"), "best", valueQuantity=amount(1100, "mL"))
    assert rows(night(result)) == []
    assert codes_of(night(result)) == ["fhir-other-resources"]


def test_a_blank_amount_is_not_a_number_of_another_system() -> None:
    volume = {"value": 1100, "system": OWN, "code": "mL"}
    assert codes_of(night(exercise(volume=volume))) == ["fhir-unit"]
    assert codes_of(night(exercise(volume={"system": UCUM, "code": "mL"}))) == ["fhir-no-value"]


def test_a_volume_in_litres_that_says_millilitres_is_caught_by_the_checks() -> None:
    log, findings = checked(night(exercise(volume=amount(1.2, "mL"))))
    assert log is not None
    assert log.entries[0].volume_ml is None
    assert [(each.field, each.severity) for each in findings] == [("volume_ml", Severity.ERROR)]


# Every resource has one of four fates.


def test_resources_add_up() -> None:
    document = night(
        exercise(hasMember=[to("Observation/spo2")]),
        saturation(),
        exercise("wrong", status="entered-in-error"),
        exercise("nobody", subject=to("Patient/somebody")),
        exercise(),
        exercise(hasMember=[to("Observation/spo2")]),
        {"resourceType": "Medication", "id": "m"},
    )
    [note] = [each for each in raw_log_of(document).findings if each.code == "fhir-other-resources"]
    assert note.message.startswith(
        "13 resources read: 2 of rows, 6 of patients and the unit, 1 set aside, 1 without effect, "
        "2 repeated, 1 about something else (Medication: 1)"
    )


def test_a_finding_says_resource_and_element_and_json_has_them() -> None:
    _, findings = checked(as_text(night(exercise(volume=amount(1.1, "L")))))
    [found] = findings
    assert text(found).startswith('night.json Observation/row.valueQuantity volume_ml "1.1 L": ')
    assert found.as_json()["at"] == "Observation/row.valueQuantity"
    assert found.place.line == 7
    assert str(found.place.row) == "night.json Observation/row"
