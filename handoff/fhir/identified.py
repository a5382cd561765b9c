"""Who a patient of the ward is in the record: surely one, or nobody.

Input: the number, name and birth date that the log has. Output: the path of the one patient, or the
code of what makes it unsure. Never decides between two.
"""

from collections.abc import Collection, Mapping
from typing import Any

from handoff.fhir.client import Client
from handoff.fhir.json_text import objs, seq, txt
from handoff.fhir.outgoing import Identity
from handoff.log.names import name_key


def identified(
    client: Client, ours: Identity, confirmed: Collection[str] = ()
) -> tuple[str, str | None]:
    """The path of the patient, and no code; or the code of a finding, and no path that counts.

    `confirmed` are numbers of patients whose name is known to be spelled in another way.
    """
    asked = ("identifier", f"{ours.system}|{ours.number}")
    found = [each for each in client.search("Patient", [asked]) if _has_number(each, ours)]
    if len(found) != 1:
        return "", "send-several" if found else "send-nobody"
    (theirs,) = found
    replaced = any(each.get("type") == "replaced-by" for each in objs(theirs.get("link")))
    if theirs.get("active") is False or replaced:
        return "", "send-inactive"
    if ours.born is None or theirs.get("birthDate") != ours.born.isoformat():
        return "", "send-born"
    if ours.number not in confirmed and not _is_alike(ours.name, theirs):
        return "", "send-name"
    return f"Patient/{theirs['id']}", None


def _has_number(theirs: Mapping[str, Any], ours: Identity) -> bool:
    return any(
        each.get("system") == ours.system
        and each.get("value") == ours.number
        and each.get("use") != "old"
        for each in objs(theirs.get("identifier"))
    )


def _is_alike(name: str, theirs: Mapping[str, Any]) -> bool:
    """Whether one word of the name is in a name that the record has, without case and accents.
    Common practice: the number and the birth date tell who it is, the name finds a slip in both.
    """
    ours = {word for word in name_key(name) if len(word) > 1}
    written = [
        txt(part)
        for each in objs(theirs.get("name"))
        for part in (each.get("text"), each.get("family"), *seq(each.get("given")))
    ]
    return bool(ours & {word for part in written for word in name_key(part)})
