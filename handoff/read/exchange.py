"""What a user says of the record system whose resources are read.

Input: nothing. Output: `Exchange`. Loads nothing of the exchange itself: few logs need it.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Optional

if TYPE_CHECKING:
    from handoff.fhir.codes import Codes


@dataclass(frozen=True, slots=True)
class Exchange:
    """The system of patient numbers, codes, and the unit's time zone, which decides the day of an
    instant. Each may be None.
    """

    patient_system: str | None = None
    codes: Optional["Codes"] = None
    time_zone: str | None = None


NO_EXCHANGE = Exchange()
