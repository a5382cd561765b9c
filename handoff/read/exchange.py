"""What a user says of the record system whose resources are read.

Input: nothing. Output: `Exchange`. Loads nothing of the exchange itself: few logs need it.
"""

from typing import TYPE_CHECKING, Optional

from handoff.model.frozen import Frozen

if TYPE_CHECKING:
    from handoff.fhir.codes import Codes


class Exchange(Frozen):
    """The system of patient numbers, codes, and the unit's time zone, which decides the day of an
    instant. Each may be None.
    """

    patient_system: str | None = None
    codes: Optional["Codes"] = None
    time_zone: str | None = None


NO_EXCHANGE = Exchange()
