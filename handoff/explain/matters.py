"""Explains the matters of a stay: the rows of each, and why it is open or how it closed.

Input: `Matter`s, the unit's time zone, limits. Output: blocks of text. Decides nothing again:
`judge` found which rows met, covered or settled a matter.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from handoff.explain.subject import in_words
from handoff.explain.text import NONE, Block, Table, local_time, with_unit
from handoff.judge.course import DANGERS
from handoff.judge.settling import NONE as NO_SYMPTOM
from handoff.judge.settling import VOLUME, VOLUME_PERCENT_OVER
from handoff.judge.signs import LOW_OXYGEN
from handoff.judge.vitals import VITALS
from handoff.judge.volume import Fall
from handoff.limits.reading import Limits
from handoff.model.matters import AIR, Eased, Look, Matter, MatterState, WhyNot
from handoff.model.verdicts import Level, Verdict

WHY_NOT: Mapping[WhyNot, str] = {
    WhyNot.BY_PATIENT: "charted by the patient",
    WhyNot.BEYOND: "not yet within its limits",
    WhyNot.ANOTHER_SYMPTOM: "another symptom, not 'none'",
    WhyNot.ON_OXYGEN: "on oxygen, the low value on air or its oxygen not recorded",
    WhyNot.MORE_OXYGEN: "on more oxygen than the low value",
    WhyNot.OXYGEN_UNKNOWN: "whether on oxygen, or how much, not recorded now or then",
    WhyNot.TOO_SOON: "too soon after the last row that met it",
}
EASED: Mapping[Eased, str] = {
    Eased.ON_OXYGEN: "within limits twice on oxygen, not off it",
    Eased.NOT_ASKED: "a day old, the patient seen since, 'none' not charted",
    Eased.OLD_FALL: "the fall is three days old",
}
WANTED_OXYGEN: Mapping[str, str] = {
    AIR: "on air",
    "": "not on oxygen: whether the low value was is not recorded",
}
NO_MORE_OXYGEN = "on air, or on no more oxygen than the low value"
WHY_LEVEL: Mapping[tuple[MatterState, Level], str] = {
    (MatterState.OPEN, Level.ESCALATE): "not told and not settled",
    (MatterState.TOLD, Level.ESCALATE): "told, not settled",
    (MatterState.SETTLED, Level.ESCALATE): "settled, not told, last met in the shift handed over",
    (MatterState.SETTLED, Level.FOLLOW_UP): "settled, not told, last met earlier: said once more",
    (MatterState.SETTLED, Level.NOTE): "settled long ago, never recorded as told: only counted",
    (MatterState.OPEN, Level.NOTE): "comfort care is ordered: not followed",
    (MatterState.TOLD, Level.NOTE): "comfort care is ordered: not followed",
    (MatterState.CLOSED, Level.FOLLOW_UP): "told and settled, opened in the shift handed over",
    (MatterState.CLOSED, Level.NOTE): "told and settled, opened earlier",
}


def list_matters(matters: Sequence[Matter], zone: ZoneInfo) -> Iterator[Block]:
    """All matters of the stay, a line each, in printing order."""
    if not matters:
        yield "No danger of this stay met a rule that is followed until it is told and settled."
        return
    columns = ("matter", "state", "level", "opened", "last row", "told", "settled", "closed")
    rows = []
    for each in matters:
        told = each.told[0].at if each.told else None
        times = (each.opened_at, each.last_at, told, each.settled_at, each.closed_at)
        shown = (local_time(at, zone) for at in times)
        rows.append((each.name, str(each.state), str(each.level), *shown))
    yield Table(columns, rows)


def explain_matter(matter: Matter, zone: ZoneInfo, limits: Limits) -> Iterator[Block]:
    """One matter: its rule, its rows in time order, and its state."""
    verdict, shift = matter.verdict, matter.shift
    yield f"{matter.name}: {matter.state}, {matter.level}"
    yield f"    rule: {DANGERS[matter.rule].question(limits)}"
    yield (
        f"    opened: {local_time(matter.opened_at, zone)}, {matter.unit}, shift "
        f"{local_time(shift.start, zone)} to {local_time(shift.end, zone)}"
    )
    yield from value_and_limit(verdict, zone)
    events = sorted(_events(matter), key=lambda event: event[0])
    rows = [(place, local_time(at, zone), says, does) for at, place, says, does in events]
    yield Table(("row", "time", "what it says", "what it does"), rows)
    told = ", ".join(local_time(each.at, zone) for each in matter.told)
    by = f", by {'a person' if matter.settled_by else 'the record'}" if matter.settled_at else ""
    yield f"    told: {told or NONE}"
    yield f"    settled: {local_time(matter.settled_at, zone)}{by}"
    yield f"    closed: {local_time(matter.closed_at, zone)}"
    yield f"    level: {matter.level}, {_why_this_level(matter)}"
    steps = list(_what_would_close_it(matter, zone))
    if steps:
        yield "    what would close it (told and settled, both):"
        yield from (f"        {step}" for step in steps)


def value_and_limit(verdict: Verdict, zone: ZoneInfo) -> Iterator[str]:
    """What met the rule, when, and what it was compared with."""
    at = f" at {local_time(verdict.at, zone)}" if verdict.at else ""
    yield f"    value: {with_unit(verdict.value, verdict.unit)}{at}"
    yield f"    limit: {with_unit(verdict.limit, verdict.unit)}"
    yield f"    source: {verdict.source}"


def _events(matter: Matter) -> Iterator[tuple[datetime, str, str, str]]:
    """Time, place, content and effect of each row; rows of the same minute in the order in which
    they are judged.
    """
    for row in matter.rows:
        does = "opens it" if row is matter.rows[0] else "meets it again"
        yield row.at, str(row.place), in_words(row), does
    looks = (*matter.looked_before, *matter.looked)
    all_of_it = len({*matter.unsettled, *(look.part for look in looks)}) == 1
    for look in looks:
        row, does = look.row, _looked(look, "it" if all_of_it else "this part of it")
        yield row.at, str(row.place), in_words(row), does
    heard = [
        *((told, "told of it") for told in matter.told),
        *((told, "told, about what is not recorded") for told in matter.about_unknown),
        *((told, "told, before its last row") for told in matter.told_before),
        *((row, "settled by a person, before it was met again") for row in matter.settled_before),
        *((row, "settled by a person") for row in (matter.settled_by,) if row),
    ]
    for told, does in heard:
        yield told.at, str(told.place), f'"{" ".join((told.note or "").split())}"', does


def _looked(look: Look, it: str) -> str:
    """What was looked at again, and whether that settles it, or why not."""
    names = {NO_SYMPTOM: "symptoms", VOLUME: "volume"}
    what = names[look.part] if look.part in names else VITALS[look.part].name
    if look.why_not is None:
        return f"{what} again: settles {it}"
    return f"{what} again: does not settle {it}, {WHY_NOT[look.why_not]}"


def _why_this_level(matter: Matter) -> str:
    """Why it escalates, is followed up, or is only noted."""
    if matter.eased:
        return f"told, not settled, but {EASED[matter.eased]}"
    return WHY_LEVEL[matter.state, matter.level]


def _what_would_close_it(matter: Matter, zone: ZoneInfo) -> Iterator[str]:
    """What is still missing to close it: the telling, the settling, or both."""
    about = " or ".join((*matter.about, "all"))
    last, since = local_time(matter.last_at, zone), local_time(matter.settles_from, zone)
    if not matter.is_told:
        yield f"to be told: a 'told' row with a note, at {last} or later, about {about}"
        if matter.about_unknown:
            yield "    the one about what is not recorded answers it as soon as it is settled"
    if matter.settled_at is not None:
        return
    fall = matter.verdict.found
    for part in matter.unsettled:
        if part == NO_SYMPTOM:
            what = f"'none' among the symptoms in a row by staff, at {since} or later"
        elif part == VOLUME and isinstance(fall, Fall):
            over = f"over {VOLUME_PERCENT_OVER} % of {with_unit(fall.usual_ml, 'mL')}"
            what = f"a volume in good form, {over}, later than {since}"
        else:
            what = f"{VITALS[part].name} within its limits in a row by staff, at {since} or later"
        yield f"to be settled: {what}"
    if LOW_OXYGEN.name in matter.unsettled and not matter.sign:
        yield f"    {WANTED_OXYGEN.get(matter.wanted_oxygen, NO_MORE_OXYGEN)}"
    yield f"or settled by a person: a 'settled' row with a note, at {last} or later, about {about}"
