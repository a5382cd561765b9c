"""What is easily misread on paper: error-prone abbreviations and numbers.

Sources: the Joint Commission's do-not-use list; ISMP's list of error-prone abbreviations (comma at
1,000 and above, a space between number and unit, no full stop after a unit, mL and not cc, no D/C).
"""

import re
from functools import cache

from tests.support.sheets import texts

ABBREVIATED = "mL|s|h|min|kg|cm|°C|/min|mL/kg"
UNITS = f"{ABBREVIATED}|%"
FORBIDDEN = {
    "do-not-use abbreviation": re.compile(
        r"\b(U(?!\+)|u|IU|Q\.?D\.?|q\.?d\.?|Q\.?O\.?D\.?|q\.?o\.?d\.?|MS|MSO4|MgSO4|cc|D/C)(?![\w'])"
    ),
    "trailing zero": re.compile(r"\d\.0+(?!\d|\.\d)"),
    "no leading zero": re.compile(r"(?<![\d.])\.\d"),
    "no comma at 1,000": re.compile(rf"(?<![\d:.,-])\d{{4,}} ({UNITS}|breaths)(?!\w)"),
    "no space before the unit": re.compile(rf"\d({UNITS}|ml)(?!\w)"),
    "full stop after a unit": re.compile(rf"\d ({ABBREVIATED})\.(\s|$)"),
    "mL written otherwise": re.compile(r"\d ?(ml|ML|Ml)\b"),
}


def misread(page: object) -> list[str]:
    """What any text of a page has that is easily misread."""
    return [each for text in texts(page) for each in _misread(text)]


@cache
def _misread(text: str) -> list[str]:
    """Most texts of one page stand on many."""
    return [f"{name}: {text}" for name, pattern in FORBIDDEN.items() if pattern.search(text)]
