"""Best volumes of the shift, of the day before it and of the stay, and the usual volume.

Input: a patient, the entries of the shift, the patient's bests. Output: `Volume`. Never counts a
volume that was blown out, and never takes a best from an off-form reading.
"""

from collections.abc import Sequence

from handoff.measure.readings import Bests
from handoff.model.measures import Volume
from handoff.model.ward import Entry, Patient


def measure_volume(patient: Patient, shift_entries: Sequence[Entry], bests: Bests) -> Volume:
    """Volumes in mL as charted (0 to 6000); None where there is no good-form reading.

    The counts are of the shift: `readings` in any form, `off_form` of them fast, slow or
    unreadable, `at_scale` at or above the device's scale (0 where the scale is not recorded).
    """
    best, previous = bests.shift, bests.previous
    best_ml = best.volume_ml if best else None
    previous_ml = previous.volume_ml if previous else None
    change_ml = None if best_ml is None or previous_ml is None else best_ml - previous_ml
    readings = [entry for entry in shift_entries if entry.is_reading]
    return Volume(
        best_ml=best_ml,
        best_at=best.at if best else None,
        previous_best_ml=previous_ml,
        change_ml=change_ml,
        change_percent=percent_of(change_ml, previous_ml),
        stay_best_ml=bests.stay.volume_ml if bests.stay else None,
        stay_best_at=bests.stay.at if bests.stay else None,
        first_ml=bests.first.volume_ml if bests.first else None,
        usual_ml=bests.recent.usual_ml,
        usual_readings=len(bests.recent.usual),
        readings=len(readings),
        off_form=sum(not reading.good_form for reading in readings),
        at_scale=sum(patient.is_at_scale(reading.volume_ml) for reading in readings),
        by_day=bests.days,
        best=best,
        previous_best=previous,
        stay_best=bests.stay,
        first=bests.first,
        recent=bests.recent,
    )


def percent_of(part: float | None, whole: float | None) -> float | None:
    """`part` in per cent of `whole`; None where either is None or the whole is 0."""
    if part is None or not whole:
        return None
    return 100 * (part / whole)
