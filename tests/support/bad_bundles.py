"""One small Bundle for each thing that can be wrong with one, and where it is found."""

import json
from dataclasses import dataclass

from tests.support.bundles import (
    ABSENT,
    LOINC,
    WARD,
    Resource,
    amount,
    bed,
    bundle,
    concept,
    exercise,
    goal,
    night,
    observed,
    order,
    patient,
    saturation,
    shift,
    stay,
    timing,
    to,
)

Found = tuple[str | None, str]


@dataclass(frozen=True)
class BadBundle:
    """A Bundle, and all that is found in it, by resource and element."""

    content: Resource | str
    found: list[Found]


def _night(code: str, at: str, *resources: Resource) -> BadBundle:
    return BadBundle(night(*resources), [(at, code)])


def _whole(code: str, content: Resource | str, at: str | None = None) -> BadBundle:
    return BadBundle(content, [(at, code)])


_ONE = json.dumps(night(exercise()))


def _without_value(resource: Resource, **others: object) -> Resource:
    return {name: each for name, each in resource.items() if name != "valueQuantity"} | others


def _ward_with(**others: Resource) -> Resource:
    """The night with one of its first resources replaced."""
    names = ("ward", "shift", "patient", "bed", "stay", "order")
    parts = dict(zip(names, WARD, strict=True)) | others
    return bundle(*parts.values(), exercise())


BAD_BUNDLES: dict[str, BadBundle] = {
    "fhir-json": _whole("fhir-json", _ONE[:-1]),
    "fhir-json-constant": _whole("fhir-json-constant", _ONE.replace("1100", "NaN")),
    "fhir-repeated-name": _whole(
        "fhir-repeated-name", _ONE.replace('"value": 1100', '"value": 1100, "value": 2100')
    ),
    "fhir-nesting": _whole("fhir-nesting", "[" * 61 + "]" * 61),
    "fhir-not-a-bundle": _whole("fhir-not-a-bundle", patient()),
    "fhir-bundle-type": _whole("fhir-bundle-type", bundle(*WARD, kind="history")),
    "fhir-version": _whole(
        "fhir-version", night({"resourceType": "DeviceUsage", "id": "d"}), "Bundle.entry[6]"
    ),
    "fhir-more-pages": _whole(
        "fhir-more-pages",
        bundle(*WARD, kind="searchset", link=[{"relation": "next", "url": "https://r.example/2"}]),
    ),
    "fhir-outcome": _whole(
        "fhir-outcome",
        {
            "resourceType": "OperationOutcome",
            "issue": [{"severity": "error", "code": "login", "diagnostics": "Not logged in"}],
        },
    ),
    "fhir-shape": _night("fhir-shape", "Observation/row.status", exercise(status="finished")),
    "fhir-same": _night("fhir-same", "Observation/row", exercise(), exercise()),
    "fhir-versions": _night(
        "fhir-versions", "Observation/row", exercise(), exercise(status="amended")
    ),
    "fhir-modifier": _night(
        "fhir-modifier",
        "Observation/row",
        exercise(modifierExtension=[{"url": "https://r.example/not", "valueBoolean": True}]),
    ),
    "fhir-patient-number": BadBundle(
        _ward_with(patient=patient(identifier=[])),
        [
            ("Patient/odile.identifier", "fhir-patient-number"),
            ("Encounter/stay.subject", "fhir-patient-unresolved"),
            ("ServiceRequest/order.subject", "fhir-patient-unresolved"),
            ("Observation/row.subject", "fhir-patient-unresolved"),
        ],
    ),
    "fhir-patient-unresolved": _night(
        "fhir-patient-unresolved",
        "Observation/row.subject",
        exercise(subject=to("Patient/somebody")),
    ),
    "fhir-another-patient": BadBundle(
        night(
            exercise(hasMember=[to("Observation/spo2")]),
            patient("10557", "rosa", name=[{"text": "Fernhill, Rosa"}], birthDate="1949-11-30"),
            bed("5", "bed-5"),
            stay(to("Patient/rosa"), "Location/bed-5", id="stay-5"),
            saturation(subject=to("Patient/rosa")),
        ),
        [("Observation/row", "fhir-another-patient")],
    ),
    "fhir-replaced": BadBundle(
        _ward_with(patient=patient(link=[{"type": "replaced-by", "other": to("Patient/other")}])),
        [("Patient/odile.link", "fhir-replaced")],
    ),
    "fhir-inactive": BadBundle(
        _ward_with(patient=patient(active=False)), [("Patient/odile.active", "fhir-inactive")]
    ),
    "fhir-older": _night(
        "fhir-older",
        "Observation/old",
        observed(
            concept("8302-2", LOINC),
            "old",
            effectiveDateTime="2020-01-01",
            valueQuantity=amount(165, "cm"),
        ),
        observed(concept("8302-2", LOINC), "new", valueQuantity=amount(162, "cm")),
    ),
    "fhir-unit": _night(
        "fhir-unit",
        "Observation/row.valueQuantity",
        exercise(volume={"value": 1100, "unit": "mL"}),
    ),
    "fhir-converted": _night(
        "fhir-converted", "Observation/row.valueQuantity", exercise(volume=amount(1.1, "L"))
    ),
    "fhir-comparator": _night(
        "fhir-comparator",
        "Observation/row.valueQuantity",
        exercise(volume={**amount(1100, "mL"), "comparator": "<"}),
    ),
    "fhir-no-value": _night(
        "fhir-no-value", "Observation/spo2.valueQuantity", _without_value(saturation())
    ),
    "fhir-two-values": _night(
        "fhir-two-values", "Observation/spo2.valueString", saturation(valueString="84 %")
    ),
    "fhir-absent": _night(
        "fhir-absent",
        "Observation/spo2.dataAbsentReason",
        _without_value(saturation(), dataAbsentReason=concept("error", ABSENT)),
    ),
    "fhir-set-aside": _night(
        "fhir-set-aside",
        "Observation/aside",
        observed(concept("set-aside"), "aside", status="unknown"),
    ),
    "fhir-code": _night("fhir-code", "Observation/row.code", observed(concept("exercize"), "row")),
    "fhir-part": _night(
        "fhir-part",
        "Observation/row.component[1]",
        exercise(
            component=[
                {"code": concept("breaths"), "valueInteger": 8},
                {"code": concept("3151-8", LOINC), "valueQuantity": amount(2, "L/min")},
            ]
        ),
    ),
    "fhir-timing": BadBundle(
        _ward_with(order=order(occurrenceTiming=timing(frequency=10))),
        [("ServiceRequest/order.occurrenceTiming", "fhir-timing")] * 2,
    ),
    "fhir-two-orders": BadBundle(
        night(order(own_id="second", occurrenceTiming=timing("2026-03-07T08:00:00-04:00"))),
        [("ServiceRequest/second.occurrenceTiming", "fhir-two-orders")] * 2,
    ),
    "fhir-which-order": BadBundle(
        bundle(
            *WARD[:5],
            order(
                occurrenceTiming={
                    "repeat": {
                        "boundsPeriod": {
                            "start": "2026-03-06T10:00:00-04:00",
                            "end": "2026-03-07T08:00:00-04:00",
                        }
                    }
                },
                status="completed",
            ),
            order(own_id="second", occurrenceTiming=timing("2026-03-07T08:00:00-04:00")),
            goal(
                {"measure": concept("exercise"), "detailQuantity": amount(1500, "mL")},
                addresses=[],
            ),
        ),
        [("Goal/goal.addresses", "fhir-which-order")],
    ),
    "fhir-on-hold": BadBundle(
        _ward_with(order=order(status="on-hold")),
        [("ServiceRequest/order.status", "fhir-on-hold")] * 2,
    ),
    "fhir-do-not-perform": BadBundle(
        _ward_with(order=order(doNotPerform=True)),
        [("ServiceRequest/order.doNotPerform", "fhir-do-not-perform")],
    ),
    "fhir-status": _night("fhir-status", "Observation/row.status", exercise(status="registered")),
    "fhir-preliminary": _night(
        "fhir-preliminary", "Observation/row.status", exercise(status="preliminary")
    ),
    "fhir-entered-in-error": _night(
        "fhir-entered-in-error", "Observation/row.status", exercise(status="entered-in-error")
    ),
    "fhir-no-zone": _night(
        "fhir-no-zone",
        "Observation/row.effectiveDateTime",
        exercise(effectiveDateTime="2026-03-07T19:40:00"),
    ),
    "fhir-two-shifts": BadBundle(
        night(shift(id="another")),
        [
            ("Observation/shift", "fhir-two-shifts"),
            ("Observation/another", "fhir-two-shifts"),
        ],
    ),
    "fhir-other-resources": _whole(
        "fhir-other-resources", night({"resourceType": "Medication", "id": "m"})
    ),
}
