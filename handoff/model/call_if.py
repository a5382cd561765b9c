"""When to call for one patient: this patient's own limits in force, to be read at the bedside.

Input: nothing. Output: frozen records. They hold for readings from now on, and judge none.
"""

from handoff.model.frozen import Frozen
from handoff.model.ward import Symptom


class CallAt(Frozen):
    """One side of a vital sign's limit. `sign` is its field in `Signs`; values under the limit
    (`low`) or over it call, if `inclusive` also the limit itself. `on_oxygen`: only on oxygen.
    `of_adults`: the patient is a child, and the limit one of adults.
    """

    sign: str
    limit: float
    low: bool
    inclusive: bool
    on_oxygen: bool
    of_adults: bool


class CallVolume(Frozen):
    """So many more `readings` in good form at or under `volume_ml`, where `usual_ml` is usual."""

    readings: int
    volume_ml: int
    usual_ml: float


class CallIf(Frozen):
    """The values, symptoms and volume at which to call. `volume` is None where it has nothing to be
    compared with. In `comfort_care` there are none: pain and breathlessness alone call.
    """

    values: tuple[CallAt, ...] = ()
    symptoms: tuple[Symptom, ...] = ()
    volume: CallVolume | None = None
    comfort_care: bool = False
