"""The official examples of HL7 FHIR 4.0.1 that the tests have, each as a Bundle."""

import gzip
import json
from functools import cache
from typing import Any

from tests.support.fhir_oracles import STANDARD


@cache
def examples() -> tuple[dict[str, Any], ...]:
    """Each example: a Bundle as it is, any other resource alone in a Bundle."""
    lines = gzip.decompress((STANDARD / "examples.jsonl.gz").read_bytes()).splitlines()
    return tuple(map(_in_a_bundle, map(json.loads, lines)))


def _in_a_bundle(resource: dict[str, Any]) -> dict[str, Any]:
    if resource["resourceType"] == "Bundle":
        return resource
    return {"resourceType": "Bundle", "type": "collection", "entry": [{"resource": resource}]}
