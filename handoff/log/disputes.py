"""What holds where rows of a log, or logs of a shift, disagree on a fact of a patient.

Input: the field and its different values. Output: the value to go by, if any, and the dispute.
Never chooses between two values, but for the patient's own limits, of which the strictest holds; of
precautions all hold.
"""

from collections.abc import Sequence
from typing import Any

from handoff.log.fields import ORDER_PARTS
from handoff.model.ward import Disputed, Doubt
from handoff.model.wording import FINDINGS

# Done or not: two times of one teaching do not make it undone.
_DONE = frozenset({"device_given", "device_labelled", "taught", "shown_back"})
_STRICTEST = {
    **dict.fromkeys(("spo2_min", "resp_rate_min", "pulse_min"), max),
    **dict.fromkeys(("spo2_max", "resp_rate_max", "pulse_max", "temp_max"), min),
}
LIMITS = frozenset(_STRICTEST)


def or_anew(name: str) -> str:
    """How else a dispute is mended: where rows are made to agree, a new order is lost."""
    if name not in ORDER_PARTS:
        return ""
    return FINDINGS.say("any.or-anew")


def in_dispute(name: str, values: Sequence[Any]) -> tuple[Any, Disputed | None]:
    """The value of a field that goes on, None without one, and the dispute to print.

    Whether something was done goes on as done at an unknown time, or as a `Doubt`, which prints
    itself.
    """
    if name in _DONE:
        return (True if all(values) else Doubt.DISPUTED), None
    dispute = Disputed(name, tuple(values))
    if name == "precautions":
        return " / ".join(values), dispute
    strictest = _STRICTEST.get(name)
    return (strictest(values) if strictest else None), dispute
