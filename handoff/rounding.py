"""Numbers as they are printed: rounding, signs, units.

Enters: unrounded numbers. Leaves: short texts. Never says more than the number bears: 99.6 % is not
printed as 100 %, nor 0.3 % as 0 %. Comma at 1,000 and above, a space before the unit, no trailing
zero, no naked decimal point (ISMP list of error-prone abbreviations).
"""

import math

MINUS = "\N{MINUS SIGN}"
ALL = 100
NEARLY = 1e-9  # a sum of shares that should be whole may miss it by so much


def whole(number: float) -> str:
    """A whole number with a comma for each thousand and a true minus sign."""
    return f"{round(number):,}".replace("-", MINUS)


def volume(volume_ml: float) -> str:
    """A volume to whole mL: `1,500 mL`."""
    return f"{whole(volume_ml)} mL"


def signed_volume(volume_ml: float) -> str:
    """A change of volume with its sign: `+50 mL`."""
    return _signed(round(volume_ml), "mL")


def slope(slope_ml_per_day: float) -> str:
    """A slope to the nearest 10 mL a day, with its sign: `+120 mL a day`."""
    return _signed(10 * round(slope_ml_per_day / 10), "mL a day")


def slope_interval(low: float, high: float) -> str:
    """The slope's interval to 10 mL a day: `+40 to +180 mL a day`."""
    return f"{_signed(10 * round(low / 10))} to {_signed(10 * round(high / 10), 'mL a day')}"


def percent(share: float) -> str:
    """A percentage to the whole number, but 100 only when reached and 0 only when nothing was."""
    return f"{_honest_percent(share)} %"


def one_decimal(number: float) -> str:
    """At most one decimal and no trailing zero: `38.5`, `10`."""
    return f"{number:,.1f}".removesuffix(".0").replace("-", MINUS)


def breaths_of_due(done: float, due: float) -> str:
    """Breaths done of those due: `84 of 120`. Equal only when what was due was done."""
    shown, of = round(done), round(due)
    if shown >= of and done < due - NEARLY:
        return f"{one_decimal(done)} of {one_decimal(due)}"
    return f"{whole(shown)} of {whole(of)}"


def days_range(days: tuple[float | None, float | None]) -> str:
    """Days from the sooner to the later, whole days: `2 to 5 days`, `3 days or more`.

    None stands for more than 14 days, beyond which nothing is claimed. Never under a day: where the
    line is at the goal already and the best is not, it may take until the next one.
    """
    sooner, later = (None if each is None else max(math.ceil(each - NEARLY), 1) for each in days)
    if sooner is None:
        return "more than 14 days"
    if later is None:
        return f"{sooner} to more than 14 days"
    if sooner == later:
        return f"{sooner} {'day' if sooner == 1 else 'days'}"
    return f"{sooner} to {later} days"


def _honest_percent(share: float) -> int:
    shown = round(share)
    if shown >= ALL and share < ALL - NEARLY:
        return ALL - 1
    if shown == 0 and share > 0:
        return 1
    return shown


def _signed(number: float, unit: str = "") -> str:
    sign = "" if number == 0 else MINUS if number < 0 else "+"
    return f"{sign}{abs(number):,} {unit}".rstrip()
