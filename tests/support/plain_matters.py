"""A second, slow, plain computation of what stays open over a stay, to compare the stage with.

It follows the definitions word by word. It walks a stay minute by minute, wherever something was
charted: first the rows that met a rule, then what was measured or asked, then what was told or said
to be over. It shares nothing with the stage but the records and the limits that go in.

Input: the shifts that list the patient, the patient's entries, 'data as of', the limits, the start
of the stay. Output: plain dicts, one a matter, in the order in which they opened. Seconds are cut
off everywhere: times are compared by the minute.
"""

import re
import statistics
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from msgspec.structs import replace

from handoff.limits.reading import Limits
from handoff.model.ward import Entry, Listing, Order, Shift

MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)

# The field of each rule on one vital sign.
FIELDS = {
    "low-oxygen": "spo2",
    "high-oxygen": "spo2",
    "breathing-rate": "resp_rate",
    "pulse": "pulse",
    "low-temperature": "temp_c",
    "fever": "temp_c",
    "pain-again": "pain",
}
VITAL_MATTERS = ["low-oxygen", "breathing-rate", "pulse", "low-temperature", "fever"]
COMFORT_RULES = ["breathless", "breathless-again", "pain-limits", "pain-again"]
SYMPTOM_MATTERS = {
    "faint-or-chest-pain": ["faint", "chest_pain"],
    "drowsy-or-confused": ["drowsy", "confused"],
}
DIZZY = ["dizzy", "tingling"]
BESIDE_DIZZY = [
    *["low-oxygen", "breathing-rate", "pulse"],
    *["faint", "chest_pain", "drowsy", "confused"],
]
VITALS_BESIDE_FALL = ["low-oxygen", "breathing-rate", "fever"]
SYMPTOMS_BESIDE_FALL = ["breathless", "wheeze"]
BREATHLESS = ["breathless", "wheeze"]
BESIDE_BREATHLESS = ["low-oxygen", "breathing-rate", "pulse", "pain-again"]

# What `about` calls the matters of a rule; those of one symptom are called by the symptom.
WORDS = {
    "low-oxygen": ["oxygen"],
    "high-oxygen": ["oxygen"],
    "fever": ["temperature"],
    "breathing-rate": ["breathing"],
    "pulse": ["pulse"],
    "low-temperature": ["temperature"],
    "dizziness-again": ["dizzy"],
    "dizziness-with-signs": ["dizzy"],
    "breathless-again": ["breathless", "wheeze"],
    "volume-drop-with-signs": ["volume"],
    "pain-again": ["pain"],
}


class Charted(NamedTuple):
    """What was charted of a stay, in time order, up to `as_of`."""

    stay: list[Entry]
    as_of: datetime


class Orders:
    """The order of each minute: what a log says of it holds from the order's start on, and where it
    is not as in the log before, from that log's shift.
    """

    def __init__(self, listings: Sequence[Listing]) -> None:
        self.changes: list[tuple[datetime, Order]] = []
        for listing in listings:
            order = listing.patient.order
            if order is not None and (not self.changes or order != self.changes[-1][1]):
                begins = order.start
                if self.changes:
                    begins = max(begins, listing.shift.start)
                self.changes = [each for each in self.changes if each[0] < begins]
                self.changes.append((begins, order))

    def at(self, time: datetime) -> Order:
        """The last one that has begun, or else the first."""
        begun = [order for begins, order in self.changes if begins <= time]
        return begun[-1] if begun else self.changes[0][1]

    def of(self, entry: Entry) -> Order:
        return self.at(entry.at)

    @property
    def usual(self) -> set[str]:
        """All that was ever usual."""
        return {str(each) for _, order in self.changes for each in order.usual_symptoms}


def plain_matters(
    listings: Sequence[Listing],
    entries: Sequence[Entry],
    as_of: datetime,
    limits: Limits,
    stay_start: datetime,
) -> list[dict[str, Any]]:
    """Every matter of the stay, as it stands at `as_of`."""
    as_of = minute(as_of)
    known = [replace(entry, at=minute(entry.at)) for entry in entries]
    first = min(minute(stay_start), minute(listings[0].shift.start)) - 24 * HOUR
    stay = [entry for entry in known if first <= entry.at <= as_of]
    # A volume of before the stay takes part in no number.
    stay = [e if e.at >= minute(stay_start) else replace(e, volume_ml=None) for e in stay]
    listings = [cut_off(listing) for listing in listings]
    met: list[dict[str, Any]] = []
    orders = Orders(listings)
    if not orders.changes:
        return []
    for k in range(len(listings)):
        met = joined(met + rows_that_meet(k, listings, Charted(stay, as_of), orders, limits))
    matters = walk(met, stay, orders, limits)
    for matter in matters:
        matter["state"] = state(matter)
        later = [e for e in stay if e.at > matter["last_at"] and is_staff(e)]
        if matter["rule"] == "low-oxygen":
            is_eased = within_twice_on_oxygen(later, orders, limits)
        else:
            is_eased = is_old(matter, later, as_of)
        matter["level"] = level(matter, listings, is_eased)
        if orders.at(as_of).comfort_care and matter["rule"] not in COMFORT_RULES:
            matter["level"] = "note"
    names = ["rule", "symptom", "opened_at", "last_at", "state", "level", "told_at"]
    names += ["about_unknown_at", "settled_at", "closed_at"]
    return [{name: matter[name] for name in names} for matter in matters]


def minute(time: datetime) -> datetime:
    return time.replace(second=0, microsecond=0)


def cut_off(listing: Listing) -> Listing:
    shift = listing.shift
    cut = replace(shift, start=minute(shift.start), end=minute(shift.end))
    return replace(listing, shift=cut)


def shift_of(time: datetime, listings: Sequence[Listing]) -> int:
    """The first shift that ends after it; after the end of the last one, that one."""
    for k, listing in enumerate(listings):
        if time < listing.shift.end:
            return k
    return len(listings) - 1


# What an entry says


def has(entry: Entry, words: list[str]) -> list[str]:
    """Those of the symptoms that the entry charts."""
    charted = [str(symptom) for symptom in entry.signs.symptoms]
    return [word for word in words if word in charted]


def value_of(rule: str, entry: Entry) -> float | None:
    value: float | None = getattr(entry.signs, FIELDS[rule])
    return value


def beyond(rule: str, entry: Entry, order: Order, limits: Limits) -> tuple[str, float] | None:
    """On which side of the limit the value lies and how far; None within, and not recorded.

    Fever: over the lower of its limits.
    """
    value = value_of(rule, entry)
    if value is None:
        return None
    own_low = {"low-oxygen": order.spo2_min, "breathing-rate": order.resp_rate_min}
    own_low["pulse"] = order.pulse_min
    own_high = {"breathing-rate": order.resp_rate_max, "pulse": order.pulse_max}
    own_high["fever"] = order.temp_max
    if rule == "high-oxygen":
        upper = upper_spo2(order, limits)
        is_over = upper is not None and value > upper and entry.signs.on_oxygen is True
        return ("high", value - (upper or 0)) if is_over else None
    for side, own, name in (("low", own_low, "at_or_under"), ("high", own_high, "at_or_over")):
        ordered = own.get(rule)
        full_name = f"{FIELDS[rule]}_{name}"
        if ordered is not None:
            past = ordered - value if side == "low" else value - ordered
            if past > 0:
                return side, past
        elif full_name in limits.rules[rule].limits:
            limit = limits.value(rule, full_name)
            past = limit - value if side == "low" else value - limit
            if past >= 0:
                return side, past
    return None


def upper_spo2(order: Order, limits: Limits) -> float | None:
    """The order's own upper limit of SpO2 on oxygen, or the one used with a low lower limit."""
    if order.spo2_max is not None:
        return order.spo2_max
    if order.spo2_min is None:
        return None
    if order.spo2_min > limits.value("high-oxygen", "spo2_min_at_or_under"):
        return None
    return limits.value("high-oxygen", "spo2_max_at_or_under")


def is_grave(rule: str, entry: Entry, order: Order, limits: Limits) -> bool:
    """Whether a value beyond its limit escalates by itself."""
    value = value_of(rule, entry) or 0
    if rule == "fever":
        return order.temp_max is not None or value >= limits.value(rule, "high_temp_c_at_or_over")
    if rule == "high-oxygen":
        upper = upper_spo2(order, limits) or 100
        is_low_target = upper <= limits.value(rule, "spo2_max_at_or_under")
        return is_low_target and value >= limits.value(rule, "spo2_at_or_over")
    return True


def without_usual(
    numbers: list[int], stay: list[Entry], orders: Orders, limits: Limits
) -> list[Entry]:
    """The stay as it is judged in one shift: without symptoms that are usual for the patient and
    stand alone, no other sign of a rule within an hour.
    """
    usual = orders.usual - {"faint", "chest_pain", "drowsy"}
    every = ["faint", "chest_pain", "drowsy", "confused", "dizzy", "tingling", "breathless"]
    others = [word for word in [*every, "wheeze"] if word not in usual]
    upto = max(numbers, default=-1) + 1
    signs_at = [
        entry.at
        for entry in stay[:upto]
        if has(entry, others)
        or any(beyond(rule, entry, orders.of(entry), limits) is not None for rule in FIELDS)
    ]
    judged = list(stay)
    for number, entry in enumerate(stay[:upto]):
        is_beside = any(abs(at - entry.at) <= HOUR for at in signs_at)
        if usual and not is_beside:
            own = {str(each) for each in orders.of(entry).usual_symptoms} & usual
            left = frozenset(each for each in entry.signs.symptoms if str(each) not in own)
            judged[number] = replace(entry, signs=replace(entry.signs, symptoms=left))
    return judged


def is_within(rule: str, entry: Entry, order: Order, limits: Limits) -> bool:
    if rule == "pain-again":
        return entry.signs.pain is not None and entry.signs.pain < 4
    return value_of(rule, entry) is not None and beyond(rule, entry, order, limits) is None


def is_staff(entry: Entry) -> bool:
    return entry.seen_by != "patient"


def good_ml(entry: Entry) -> float | None:
    """The volume of a reading in good form."""
    if entry.what != "exercise" or entry.flow not in (None, "steady"):
        return None
    return entry.volume_ml


def amount(text: str | None, unit: str) -> float | None:
    """The number before the unit in the text of `oxygen`."""
    written = r"l(?:iters?|itres?|pm)?\b" if unit == "L" else unit
    found = re.search(rf"(\d+(?:\.\d+)?)\s*{written}", text or "", re.IGNORECASE)
    return float(found.group(1)) if found else None


def names_it(entry: Entry, matter: dict[str, Any]) -> bool:
    words = [matter["symptom"]] if matter["symptom"] else WORDS[matter["rule"]]
    return bool({"all", *words} & set(entry.about))


def has_note(entry: Entry) -> bool:
    return entry.note is not None and any(letter.isalnum() for letter in entry.note)


# The rows that meet a rule in one shift


def rows_that_meet(
    k: int,
    listings: Sequence[Listing],
    charted: Charted,
    orders: Orders,
    limits: Limits,
) -> list[dict[str, Any]]:
    """One dict a row and matter: `parts` are the symptoms and sign rules that a mixed rule saw."""
    stay = charted.stay
    of_shift = [n for n, e in enumerate(stay) if shift_of(e.at, listings) == k]
    stay = without_usual(of_shift, stay, orders, limits)
    found: list[dict[str, Any]] = []

    def add(number: int, rule: str, **more: Any) -> None:
        entry = stay[number]
        if rule in COMFORT_RULES or not orders.of(entry).comfort_care:
            row = {"number": number, "entry": entry, "at": entry.at, "rule": rule}
            row |= {"symptom": None, "shift": k, "parts": set()}
            found.append(row | more)

    for number in of_shift:
        for rule, more in single_signs(stay[number], orders.of(stay[number]), limits):
            add(number, rule, **more)
    around = with_hour_before(of_shift, listings[k].shift.start, stay)
    for number in high_on_oxygen(sorted(around), of_shift, stay, orders, limits):
        past = beyond("high-oxygen", stay[number], orders.of(stay[number]), limits)
        value = value_of("high-oxygen", stay[number]) if past else None
        add(number, "high-oxygen", value=value, side="high", past=past[1] if past else None)
    signs = signs_in_each(around, orders, limits)
    for rule, number, more in again_or_beside(around, signs, of_shift):
        add(number, rule, **more)
    shift = listings[k].shift
    for number, (parts, usual_ml) in fall(
        of_shift, shift, Charted(stay, charted.as_of), orders, limits
    ).items():
        add(number, "volume-drop-with-signs", parts=parts, usual_ml=usual_ml)
    return found


def single_signs(entry: Entry, order: Order, limits: Limits) -> list[tuple[str, dict[str, Any]]]:
    """The rules that escalate on one sign of one row."""
    found: list[tuple[str, dict[str, Any]]] = []
    for rule in VITAL_MATTERS:
        past = beyond(rule, entry, order, limits)
        if past is not None and is_grave(rule, entry, order, limits):
            found.append((rule, {"value": value_of(rule, entry), "side": past[0], "past": past[1]}))
    for rule, symptoms in SYMPTOM_MATTERS.items():
        found += [(rule, {"symptom": symptom}) for symptom in has(entry, symptoms)]
    return found


def high_on_oxygen(
    numbers: list[int], of_shift: list[int], stay: list[Entry], orders: Orders, limits: Limits
) -> set[int]:
    """The rows with an SpO2 too high on oxygen that escalate, and the sign rows near them."""
    rule = "high-oxygen"

    def past_limit(name: str, entry: Entry) -> tuple[str, float] | None:
        return beyond(name, entry, orders.of(entry), limits)

    within = limits.value(rule, "minutes_at_or_under") * MINUTE
    high = [n for n in numbers if past_limit(rule, stay[n]) is not None]
    of_now = (n for n in high if n in of_shift)
    found = {n for n in of_now if is_grave(rule, stay[n], orders.of(stay[n]), limits)}
    for other in numbers:
        past = past_limit("breathing-rate", stay[other])
        if not has(stay[other], ["drowsy", "confused"]) and (past is None or past[0] != "low"):
            continue
        for one in high:
            near = abs(stay[one].at - stay[other].at) <= within
            if near and (one in of_shift or other in of_shift):
                found |= {one, other}
    return found


def with_hour_before(of_shift: list[int], start: datetime, stay: list[Entry]) -> dict[int, Entry]:
    """The rows of a shift and of the hour before it, by their numbers."""
    first = min([start, *(stay[number].at for number in of_shift)])
    before = [n for n, e in enumerate(stay) if first - HOUR <= e.at < first]
    return {n: stay[n] for n in sorted({*before, *of_shift})}


def signs_in_each(around: dict[int, Entry], orders: Orders, limits: Limits) -> dict[int, set[str]]:
    """The symptoms of each row, and the rules of the values beyond their limits."""
    signs: dict[int, set[str]] = {}
    for number, entry in around.items():
        signs[number] = {str(symptom) for symptom in entry.signs.symptoms}
        order = orders.of(entry)
        judged = ["pain-again"] if order.comfort_care else FIELDS
        signs[number] |= {r for r in judged if beyond(r, entry, order, limits) is not None}
    return signs


def again_or_beside(
    around: dict[int, Entry], signs: dict[int, set[str]], of_shift: list[int]
) -> Iterator[tuple[str, int, dict[str, Any]]]:
    """The rows of dizziness, breathlessness and pain, at several times or beside a sign: rule, row
    and what the row shows of it.
    """
    near_dizzy = near(around, signs, of_shift, (DIZZY, BESIDE_DIZZY))
    third = nth_time(3, DIZZY, around, of_shift)
    # The graver rule of the shift is followed in its place.
    for number in near_dizzy or third:
        rule = "dizziness-with-signs" if near_dizzy else "dizziness-again"
        shows = [*DIZZY, *BESIDE_DIZZY] if near_dizzy else DIZZY
        yield rule, number, {"parts": signs[number] & set(shows)}
    breathless = near(around, signs, of_shift, (BREATHLESS, BESIDE_BREATHLESS))
    for number in {*breathless, *nth_time(2, BREATHLESS, around, of_shift)}:
        shown = signs[number] & {*BREATHLESS, *BESIDE_BREATHLESS}
        yield "breathless-again", number, {"parts": shown}
    for number in pain_again(around, of_shift):
        pain = around[number].signs.pain or 0
        yield "pain-again", number, {"value": pain, "side": "high", "past": pain - 7}


def near(
    around: dict[int, Entry],
    signs: dict[int, set[str]],
    of_shift: list[int],
    what: tuple[list[str], list[str]],
) -> set[int]:
    """The rows with one of these symptoms and those with one of these signs that lie within 60 min
    of each other, one of the two at least of the shift.
    """
    symptoms, beside = what
    found: set[int] = set()
    for one, row in around.items():
        for other, other_row in around.items():
            is_pair = signs[one] & set(symptoms) and signs[other] & set(beside)
            close = abs(row.at - other_row.at) <= HOUR
            if is_pair and close and (one in of_shift or other in of_shift):
                found |= {one, other}
    return found


def nth_time(
    n: int, symptoms: list[str], around: dict[int, Entry], of_shift: list[int]
) -> list[int]:
    """The rows that chart a symptom from its n-th time on, the last of them of the shift."""
    rows = [number for number, entry in around.items() if has(entry, symptoms)]
    times = sorted({around[number].at for number in rows})
    if len(times) < n or not any(number in of_shift for number in rows):
        return []
    return [number for number in rows if around[number].at >= times[n - 1]]


def pain_again(around: dict[int, Entry], of_shift: list[int]) -> list[int]:
    """The rows with pain of 7 or more, 30 min or more after the first such one."""
    rows = [number for number, entry in around.items() if (entry.signs.pain or 0) >= 7]
    if not any(number in of_shift for number in rows):
        return []
    return [n for n in rows if around[n].at - around[rows[0]].at >= 30 * MINUTE]


def fall(
    numbers: list[int],
    shift: Shift,
    charted: Charted,
    orders: Orders,
    limits: Limits,
) -> dict[int, tuple[set[str], float]]:
    """The low readings and the sign rows of a shift in which the volume fell, each with what it
    fell from.

    A reading counts in a number of the shift whose time holds it, as it does in the measures.
    """
    stay, as_of = charted
    readings = [n for n, e in enumerate(stay) if good_ml(e) is not None and e.at < shift.end]
    # Of one instant the lower counts as earlier.
    readings.sort(key=lambda n: (stay[n].at, good_ml(stay[n])))
    if not readings or stay[readings[-1]].at < shift.start:
        return {}
    day_ago = min(as_of, shift.end) - 24 * HOUR
    last = [n for n in readings[-3:] if stay[n].at >= day_ago]
    three_days = 72 * HOUR
    usual = [n for n in readings if shift.start - three_days <= stay[n].at < shift.start][-7:]
    is_early = len(usual) < 3
    if is_early:
        latest_at = stay[readings[-1]].at
        usual = [n for n in readings[:-1] if stay[n].at >= latest_at - three_days]
    if not usual:
        return {}
    usual_ml = statistics.median(good_ml(stay[n]) or 0.0 for n in usual)

    def are_under(count: int, line: str) -> bool:
        """All of so many of the last readings are far enough under the usual."""
        part = limits.value("volume-drop-with-signs", f"{line}_percent_at_or_under")
        under_ml = limits.value("volume-drop-with-signs", f"{line}_ml_under_at_or_over")
        volumes = [good_ml(stay[n]) or 0.0 for n in last[-count:]]
        return len(volumes) == count and all(
            100 * ml <= part * usual_ml and usual_ml - ml >= under_ml for ml in volumes
        )

    if not usual_ml:
        return {}
    signs: dict[int, set[str]] = {}
    for number in numbers:
        entry = stay[number]
        order = orders.of(entry)
        seen = {r for r in VITALS_BESIDE_FALL if beyond(r, entry, order, limits) is not None}
        seen.update(has(entry, SYMPTOMS_BESIDE_FALL))
        if seen:
            signs[number] = seen
    if not is_early and are_under(2, "deep"):
        cited = last[-2:]
    elif signs and are_under(1, "sign"):
        cited = last[-1:]
    else:
        return {}
    return {number: (signs.get(number, set()), usual_ml) for number in {*cited, *signs}}


def joined(met: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """A row that two shifts cite for one rule is one row; it shows all that either of them saw."""
    kept: dict[tuple[Any, ...], dict[str, Any]] = {}
    for row in met:
        key = (row["number"], row["rule"], row["symptom"])
        if key in kept:
            kept[key]["parts"] |= row["parts"]
        else:
            kept[key] = row
    return sorted(kept.values(), key=lambda row: (row["at"], row["number"]))


# The stay, minute by minute


def walk(
    met: list[dict[str, Any]],
    stay: list[Entry],
    orders: Orders,
    limits: Limits,
) -> list[dict[str, Any]]:
    matters: list[dict[str, Any]] = []
    for now in sorted({entry.at for entry in stay}):
        # A row that met a rule only with a row of the next shift is read at its own time too.
        for row in met:
            if row["at"] == now:
                take(row, matters)
        charted = [entry for entry in stay if entry.at == now]
        for matter in matters:
            if matter["closed_at"] is None:
                read_on(matter, charted, now, orders, limits)
    return matters


def read_on(
    matter: dict[str, Any],
    charted: list[Entry],
    now: datetime,
    orders: Orders,
    limits: Limits,
) -> None:
    """What was charted at this minute, for a matter that is not closed."""
    for entry in charted:
        if is_staff(entry):
            measured(matter, entry, now, orders.of(entry), limits)
        given = entry.signs.spo2 is not None and entry.signs.on_oxygen is True
        matter["oxygen_since"] |= given and now > matter["last_at"]
    for entry in charted:
        said(matter, entry, now)
    close_if_told(matter, now)


def close_if_told(matter: dict[str, Any], now: datetime) -> None:
    """What did not say what it is about answers a matter once it is settled."""
    unknown = [at for at in matter["blank"] if 0 * HOUR <= at - matter["last_at"] <= HOUR]
    matter["about_unknown_at"] = unknown
    matter["told_at"] = [told["at"] for told in matter["told"] if told["answers"]]
    if matter["settled_at"] is not None and (matter["told_at"] or unknown):
        matter["closed_at"] = now
        matter["told_at"] = matter["told_at"] or unknown
        matter["about_unknown_at"] = []


def take(row: dict[str, Any], matters: list[dict[str, Any]]) -> None:
    """A row that meets a rule goes to the matter that is not closed, or opens one."""
    for matter in matters:
        same = matter["rule"] == row["rule"] and matter["symptom"] == row["symptom"]
        if same and matter["closed_at"] is None:
            if row["at"] < matter["last_at"]:
                matter["rows"].insert(0, row)
                return
            for told in matter["told"]:
                late = row["at"] - told["at"] > 4 * HOUR
                known = [each for each in matter["rows"] if each["at"] <= told["at"]]
                if late or is_worse(row, known) or matter["settled_at"] is not None:
                    told["answers"] = False
            matter["rows"].append(row)
            matter["last_at"] = row["at"]
            matter["settled_at"] = None
            matter["oxygen_since"] = False
            matter["parts_settled_at"] = {}
            return
    opened = {"rule": row["rule"], "symptom": row["symptom"], "rows": [row]}
    opened |= {"opened_at": row["at"], "last_at": row["at"], "opened_in": row["shift"]}
    opened |= {"told": [], "blank": [], "told_at": [], "about_unknown_at": []}
    opened |= {"settled_at": None, "closed_at": None, "parts_settled_at": {}}
    opened |= {"oxygen_since": False}
    matters.append(opened)


def is_worse(row: dict[str, Any], before: list[dict[str, Any]]) -> bool:
    """Worse than all that the provider knows of, so that it wants telling again."""
    rule = row["rule"]
    if rule in ("high-oxygen", "fever"):
        by = 2 if rule == "high-oxygen" else 0.5
        values = [each["value"] for each in before if each["value"] is not None]
        if row["value"] is None:
            return False
        return not values or round(row["value"] - max(values), 6) >= by
    if rule in ("low-oxygen", "low-temperature"):
        by = 2 if rule == "low-oxygen" else 0.5
        lower_by: float = min(each["value"] for each in before) - row["value"]
        return round(lower_by, 6) >= by
    if rule in ("breathing-rate", "pulse", "pain-again"):
        same_side = [each["past"] for each in before if each["side"] == row["side"]]
        by = 2 if rule == "pain-again" else 5
        return not same_side or row["past"] - max(same_side) >= by
    known: set[str] = set()
    for each in before:
        known |= each["parts"]
    return bool(row["parts"] - known)


def measured(
    matter: dict[str, Any], entry: Entry, now: datetime, order: Order, limits: Limits
) -> None:
    """What staff measured or asked at this minute, where it settles the matter."""
    rule, rows = matter["rule"], matter["rows"]
    if matter["settled_at"] is not None:
        return
    if rule == "volume-drop-with-signs":
        is_good = 100 * (good_ml(entry) or 0) > 85 * rows[-1]["usual_ml"]
        if is_good and now > matter["last_at"]:
            matter["settled_at"] = now
        return
    if now - matter["last_at"] < HOUR:
        return
    wanted = parts_of(matter)
    for part in wanted:
        if shows_part_over(part, matter, entry, order, limits):
            matter["parts_settled_at"].setdefault(part, now)
    if all(part in matter["parts_settled_at"] for part in wanted):
        matter["settled_at"] = now


def shows_part_over(
    part: str, matter: dict[str, Any], entry: Entry, order: Order, limits: Limits
) -> bool:
    """Whether an entry shows that one part of a matter is over."""
    if part == "none":
        return bool(has(entry, ["none"]))
    is_over = is_within(part, entry, order, limits)
    if part == "high-oxygen" and is_over and entry.signs.on_oxygen is None:
        upper = upper_spo2(order, limits)
        return upper is None or (entry.signs.spo2 or 0) <= upper
    if part == "low-oxygen":
        low = [row for row in matter["rows"] if matter["rule"] == part or part in row["parts"]]
        return is_over and oxygen_allows(low, entry, matter["oxygen_since"])
    return is_over


def parts_of(matter: dict[str, Any]) -> list[str]:
    """What has to be over before the matter is: vital signs by their rules, symptoms by `none`."""
    if matter["symptom"] is not None:
        return ["none"]
    if matter["rule"] not in ("dizziness-again", "dizziness-with-signs", "breathless-again"):
        return [matter["rule"]]
    signs = {part for row in matter["rows"] for part in row["parts"]}
    return ["none", *(rule for rule in FIELDS if rule in signs)]


def oxygen_allows(low: list[dict[str, Any]], entry: Entry, since: bool) -> bool:
    """A good SpO2 says that a low one is over only on no more oxygen than then."""
    now_on = entry.signs.on_oxygen
    then_on = [row["entry"].signs.on_oxygen for row in low]
    if False in then_on:
        return now_on is False
    if True not in then_on:
        return now_on is False or (now_on is None and not since)
    if now_on is False:
        return True
    if now_on is None:
        return False
    texts = [row["entry"].signs.oxygen for row in low if row["entry"].signs.on_oxygen]
    for unit in ("L", "%"):
        here = amount(entry.signs.oxygen, unit)
        then = [amount(text, unit) for text in texts]
        known = [each for each in then if each is not None]
        if here is not None and len(known) == len(then) and here <= min(known):
            return True
    return False


def said(matter: dict[str, Any], entry: Entry, now: datetime) -> None:
    """A `told` or `settled` entry of this minute, where it has to do with the matter."""
    if not has_note(entry) or not is_staff(entry):
        return
    if entry.what == "told" and names_it(entry, matter):
        matter["told"].append({"at": now, "answers": True})
    if entry.what == "told" and not entry.about:
        matter["blank"].append(now)
    if entry.what == "settled" and names_it(entry, matter) and matter["settled_at"] is None:
        matter["settled_at"] = now


# How the matter stands


def state(matter: dict[str, Any]) -> str:
    if matter["closed_at"] is not None:
        return "closed"
    if matter["settled_at"] is not None:
        return "settled"
    return "told" if matter["told_at"] else "open"


def level(matter: dict[str, Any], listings: Sequence[Listing], is_eased: bool) -> str:
    last = len(listings) - 1
    if matter["state"] == "closed":
        return "follow_up" if matter["opened_in"] == last else "note"
    if matter["state"] == "settled":
        met_in = shift_of(matter["last_at"], listings)
        settled_in = shift_of(matter["settled_at"], listings)
        if last == met_in:
            return "escalate"
        return "follow_up" if last == max(met_in + 1, settled_in) else "note"
    if matter["state"] == "open":
        return "escalate"
    return "follow_up" if is_eased else "escalate"


def is_old(matter: dict[str, Any], later: list[Entry], as_of: datetime) -> bool:
    age = as_of - matter["last_at"]
    if matter["rule"] == "volume-drop-with-signs":
        return bool(age >= 72 * HOUR)
    missing = [part for part in parts_of(matter) if part not in matter["parts_settled_at"]]
    seen = [entry for entry in later if saw_the_patient(entry)]
    return missing == ["none"] and age >= 24 * HOUR and len(seen) >= 3


def within_twice_on_oxygen(later: list[Entry], orders: Orders, limits: Limits) -> bool:
    on_oxygen = [entry for entry in later if entry.signs.on_oxygen is True]
    times = [e.at for e in on_oxygen if is_within("low-oxygen", e, orders.of(e), limits)]
    return bool(times) and max(times) - min(times) >= HOUR


def saw_the_patient(entry: Entry) -> bool:
    signs = entry.signs
    values = (signs.pain, signs.spo2, signs.resp_rate, signs.pulse, signs.temp_c)
    if signs.symptoms or any(value is not None for value in values):
        return True
    return entry.what in ("exercise", "declined", "seen")
