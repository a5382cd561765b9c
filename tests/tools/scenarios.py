"""The recoveries that the back-test follows, by name: an underlying change in mL a day, and a ward.

Enters: nothing. Leaves: `Assumptions`. Every one is the default of `Assumptions` (40 % of waking
rounds charted, spread 80 mL within and between shifts) but for what stands here.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from tests.tools.simulation import Assumptions

FLAT, RISING = Assumptions(), Assumptions(gain_ml_per_day=100)
GAINS = (-200, -100, -50, 50, 100, 200)
SPARSE: Mapping[str, Any] = {"charted_chance": 0.15, "missed_night_chance": 0.4}
LOUD: Mapping[str, Any] = {"shift_sd_ml": 120, "reading_sd_ml": 120}
WARDS: Mapping[str, Mapping[str, Any]] = {
    "quiet": {"shift_sd_ml": 40, "reading_sd_ml": 40},
    "loud": LOUD,
    "sparse": SPARSE,
    "shifts alike": {"carried": 0.5},
    "swing 100 mL": {"swing_ml": 100},
    "8 h shifts": {"shift_h": 8},
}


def on_wards(name: str, given: Assumptions) -> dict[str, Assumptions]:
    """The same recovery on every other ward."""
    return {f"{name}, {ward}": replace(given, **other) for ward, other in WARDS.items()}


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


STRAIGHT = {
    "flat": FLAT,
    **{f"{gain:+}": Assumptions(gain) for gain in GAINS},
    **on_wards("flat", FLAT),
    **on_wards("+100", RISING),
}
BENT = {
    "flat, learning 150 mL": replace(FLAT, learning_ml=150),
    "+100, learning 150 mL": replace(RISING, learning_ml=150),
    "+200 to a plateau": Assumptions(200, plateau_after_d=(2, 4)),
    "30 % of flat lost": complicated(0.3)["30 % of flat"],
    "50 % of flat lost": complicated(0.5)["50 % of flat"],
}
NO_FALL = {name: given for name, given in complicated(0).items() if given.loss_over_h < 24}
FALLS = {**NO_FALL, **complicated(0.3), **complicated(0.5)}
STEADY = {
    "flat": FLAT,
    "flat, 600 to 1,000 mL": replace(FLAT, volume_ml=(600, 1000)),
    "flat, 1,500 to 2,500 mL": replace(FLAT, volume_ml=(1500, 2500)),
    "+100": RISING,
    **on_wards("flat", FLAT),
    "flat, fever in 5 % of shifts": replace(FLAT, sign_chance_well=0.05),
}
AIMED: Mapping[str, Any] = {"goal_after_d": (4, 12), "length_d": 22}  # till the last pair's end
GOALS = {
    **{f"{gain:+}": Assumptions(gain, **AIMED) for gain in (50, 100, 200)},
    "+100, loud": replace(RISING, **AIMED, **LOUD),
    "+100, shifts alike": replace(RISING, **AIMED, carried=0.5),
    "+200 to a plateau under the goal": Assumptions(
        200, plateau_after_d=(2, 4), goal_after_d=(5, 9), length_d=22
    ),
    "flat under the goal": replace(FLAT, length_d=22),
}
