"""Bundles of logs for the tests: written, and looked into."""

import json
from functools import cache
from typing import Any

from handoff.fhir.bundle import collection
from handoff.fhir.codes import Codes, load_codes
from handoff.model.ward import Log

Json = dict[str, Any]
SYSTEM = "urn:oid:2.999.1"  # an address that the standard gives to examples


@cache
def default_codes() -> Codes:
    codes, _ = load_codes()
    assert codes is not None
    return codes


def bundle_of(log: Log) -> Json:
    bundle: Json = json.loads(collection(default_codes(), SYSTEM, log))
    return bundle


def resources(bundle: Json, kind: str = "", code: str = "") -> list[Json]:
    """The resources of a kind, with a code of ours or of the standard."""
    found = [each["resource"] for each in bundle["entry"]]
    return [
        each
        for each in found
        if kind in ("", each["resourceType"]) and (not code or code in codes_of(each))
    ]


def codes_of(resource: Json) -> set[str]:
    """The codes of `code`, `type` and `category`."""
    said = [resource.get(name) for name in ("code", "type", "category")]
    flat = [item for each in said for item in (each if isinstance(each, list) else [each]) if item]
    return {coding["code"] for each in flat for coding in each.get("coding", ())}


def the(bundle: Json, kind: str, code: str = "") -> Json:
    """The only one of these."""
    (resource,) = resources(bundle, kind, code)
    return resource
