"""The recoveries that the back-test follows, by name: an underlying change in mL a day, and a ward.

Enters: nothing. Leaves: `Assumptions` (generator A: 40 % of waking rounds charted, spread 80 mL
within and between shifts) and `OtherAssumptions` (generator B), with their defaults but for what
stands here.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from tests.tools.follow import AnyAssumptions
from tests.tools.other_simulation import OtherAssumptions
from tests.tools.simulation import Assumptions

FLAT, RISING = Assumptions(), Assumptions(gain_ml_per_day=100)
SPARSE: Mapping[str, Any] = {"charted_chance": 0.15, "missed_night_chance": 0.4}
LOUD: Mapping[str, Any] = {"shift_sd_ml": 120, "reading_sd_ml": 120}


def complicated(loss: float) -> dict[str, Assumptions]:
    """Recoveries that lose a part of the volume in their third to fifth day."""
    lost = replace(FLAT, loss=loss, onset_h=(48, 120))
    by_name = {
        "flat": lost,
        "+100": replace(lost, gain_ml_per_day=100),
        "flat, loud": replace(lost, **LOUD),
        "flat, sparse": replace(lost, **SPARSE),
        "flat, fever": replace(lost, sign_chance_well=0.05, sign_chance_ill=0.5 if loss else 0.05),
        "flat, over 24 h": replace(lost, loss_over_h=24),
    }
    return {f"{100 * loss:.0f} % of {name}": given for name, given in by_name.items()}


CLASSES = {"S": (600, 1000), "M": (1000, 1500), "L": (1500, 2500)}  # mL
OTHER_FLAT = OtherAssumptions()
ILL: Mapping[str, Any] = {"onset_h": (48, 120)}


def of_sizes(name: str, given: AnyAssumptions) -> dict[str, AnyAssumptions]:
    """The same recovery of small, middling and large volumes."""
    return {
        f"{name}, {size}": replace(given, volume_ml=volume_ml)
        for size, volume_ml in CLASSES.items()
    }


RECOVERING: Mapping[str, Any] = {"missing_part": (0.3, 0.5), "missing_h": (72, 72)}
SIZES = {
    size_name: given
    for name, generator in (("A", FLAT), ("B", OTHER_FLAT))
    for part in (0, 0.3, 0.5)
    for size_name, given in of_sizes(
        f"{name}, {100 * part:.0f} % lost", replace(generator, loss=part, **ILL)
    ).items()
}
STRAIGHT: dict[str, AnyAssumptions] = {
    "A +100": RISING,
    "A +200": Assumptions(200),
    "A +50": Assumptions(50),
    "A +100, sparse": replace(RISING, **SPARSE),
    "A +100, shifts alike": replace(RISING, carried=0.5),
    "B +100": OtherAssumptions(100),
    "A flat": FLAT,
    "A flat, shifts alike": replace(FLAT, carried=0.5),
    "B flat, slow noise 24 h": replace(OTHER_FLAT, slow_fades_h=24),
    "A -100": Assumptions(-100),
}
REST: dict[str, AnyAssumptions] = {
    "A flat": FLAT,
    "B flat": OTHER_FLAT,
    "A +75": Assumptions(75),
    "A +100": RISING,
    "A +200 to a plateau": Assumptions(200, plateau_after_d=(2, 4)),
    "B +200 to a plateau": OtherAssumptions(200, plateau_after_d=(2, 4)),
    "A 30 % of flat lost": complicated(0.3)["30 % of flat"],
}
FALLS: dict[str, AnyAssumptions] = {
    **{f"A {name}": given for name, given in complicated(0.3).items()},
    "A 30 % of +200": Assumptions(200, loss=0.3, onset_h=(48, 120)),
    "A 20 % of flat": complicated(0.2)["20 % of flat"],
    "A 50 % of flat": complicated(0.5)["50 % of flat"],
    "B 30 % of a recovery": replace(OTHER_FLAT, loss=0.3, **RECOVERING, **ILL),
    "B 30 % of flat, gradual": replace(OTHER_FLAT, loss=0.3, loss_over_h=(2, 22), **ILL),
}
STEADY: dict[str, AnyAssumptions] = {
    "A flat": FLAT,
    "A flat, loud": replace(FLAT, **LOUD),
    "A flat, shifts alike": replace(FLAT, carried=0.5),
    "A flat, 8 h shifts": replace(FLAT, shift_h=8),
    "A +200": Assumptions(200),
    "B flat": OTHER_FLAT,
    "B a recovery": replace(OTHER_FLAT, **RECOVERING),
}
AIMED: Mapping[str, Any] = {"goal_after_d": (4, 12), "length_d": 22}  # till the last pair's end
GOALS: dict[str, AnyAssumptions] = {
    **{f"A {gain:+}": Assumptions(gain, **AIMED) for gain in (50, 100, 200)},
    "A +100, loud": replace(RISING, **AIMED, **LOUD),
    "A +100, shifts alike": replace(RISING, **AIMED, carried=0.5),
    "A +200 to a plateau under the goal": Assumptions(
        200, plateau_after_d=(2, 4), goal_after_d=(5, 9), length_d=22
    ),
    "B +100": OtherAssumptions(100, **AIMED),
    "B +200": OtherAssumptions(200, **AIMED),
    "B a recovery": replace(OTHER_FLAT, **RECOVERING, length_d=22),
}
