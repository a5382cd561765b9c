"""Numbers as they are printed: rounding, signs, units.

Input: unrounded numbers. Output: numbers as text, and no word of any language. Never claims too
much: 99.6 % is not printed as 100 %, nor 0.3 % as 0 %. Comma at 1,000 and above, a space before the
unit, no trailing zero, no naked decimal point (ISMP list of error-prone abbreviations).
"""

import math

MINUS = "\N{MINUS SIGN}"
ALL = 100
NEARLY = 1e-9  # the most by which a sum of shares may miss a whole number


def exact(number: float | None) -> str:
    """A number to 8 significant digits without trailing zeros: `53.181818`; `-` for none.

    Adding 0.0 keeps a minus sign off nought.
    """
    return "-" if number is None else f"{number + 0.0:.8g}"


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
    """A slope to the nearest 10 mL a day, with its sign: `+120 mL`."""
    return _signed(10 * round(slope_ml_per_day / 10), "mL")


def bare_slope(slope_ml_per_day: float) -> str:
    """The same without its unit, as the lower end of an interval: `+120`."""
    return slope(slope_ml_per_day).removesuffix(" mL")


def percent(share: float) -> str:
    """A percentage to the whole number, but 100 only when reached and 0 only when nothing was."""
    return f"{_honest_percent(share)} %"


def one_decimal(number: float) -> str:
    """At most one decimal and no trailing zero: `38.5`, `10`."""
    return f"{number:,.1f}".removesuffix(".0").replace("-", MINUS)


def breaths_of_due(done: float, due: float) -> tuple[str, str]:
    """Breaths done and due: `84`, `120`. Equal only when what was due was done."""
    shown, of = round(done), round(due)
    if shown >= of and done < due - NEARLY:
        return one_decimal(done), one_decimal(due)
    return whole(shown), whole(of)


def breaths_beside_percent(done: float, due: float) -> tuple[str, str]:
    """The same where their percentage is printed too: with as few decimals, two at most, as give
    that percentage again: `9.8`, `20` beside 49 %.
    """
    said = percent(ALL * done / due) if due else ""
    for decimals in range(3):
        shown, of = round(done, decimals), round(due, decimals)
        if of and percent(ALL * shown / of) == said:
            break
    return f"{shown:,}".removesuffix(".0"), f"{of:,}".removesuffix(".0")


def up_to_ten(number: float) -> int:
    """The next multiple of 10 above a number of 0 or more."""
    return 10 * (math.floor(number / 10) + 1)


def _honest_percent(share: float) -> int:
    shown = round(share)
    if shown >= ALL and share < ALL - NEARLY:
        return ALL - 1
    if shown == 0 and share > 0:
        return 1
    return shown


def _signed(number: float, unit: str) -> str:
    sign = "" if number == 0 else MINUS if number < 0 else "+"
    return f"{sign}{abs(number):,} {unit}"
