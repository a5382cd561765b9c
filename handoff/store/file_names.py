"""File names that hold nothing of a patient, are safe on any file system, and never clash.

Input: names as a log has them (beds, units). Output: a distinct plain name for each.
"""

import re
import unicodedata
from collections.abc import Iterable

LONGEST = 40

# Names that some systems reserve for devices, with any ending after a dot.
_DEVICES = frozenset(
    {"con", "prn", "aux", "nul"} | {f"{port}{n}" for port in ("com", "lpt") for n in range(10)}
)


def distinct_names(prefix: str, names: Iterable[str]) -> list[str]:
    """`prefix` and each name with everything but letters, digits and dashes made a dash.

    Equal names, also those that differ only in case, get a number; so do device names.
    """
    taken = set(_DEVICES)
    distinct = []
    for name in names:
        ascii_name = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
        dashed = re.sub(r"[^A-Za-z0-9]+", "-", ascii_name)[:LONGEST].strip("-")
        plain = prefix + (dashed or "unnamed")
        candidate, number = plain, 2
        while candidate.casefold() in taken:
            candidate, number = f"{plain}-{number}", number + 1
        taken.add(candidate.casefold())
        distinct.append(candidate)
    return distinct
