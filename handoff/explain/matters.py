"""Explains the matters of a stay: the rows of each, and why it is open or how it closed.

Input: `Matter`s, the unit's time zone, limits. Output: blocks of text. Decides nothing again:
`judge` found which rows met, covered or settled a matter.
"""

from collections.abc import Iterator, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from handoff.explain.subject import in_words
from handoff.explain.text import NONE, Block, Table, columns, local_time, with_unit
from handoff.judge.course import DANGERS
from handoff.judge.settling import NONE as NO_SYMPTOM
from handoff.judge.settling import VOLUME
from handoff.judge.signs import LOW_OXYGEN
from handoff.judge.vitals import VITALS
from handoff.limits.reading import Limits
from handoff.model.matters import AIR, VOLUME_PERCENT_OVER, Look, Matter
from handoff.model.verdicts import Verdict
from handoff.model.wording import EXPLAIN


def list_matters(matters: Sequence[Matter], zone: ZoneInfo) -> Iterator[Block]:
    """All matters of the stay, a line each, in printing order."""
    if not matters:
        yield EXPLAIN.say("matter.none")
        return
    heads = columns(
        *("matter", "state", "level", "opened", "last-row", "told", "settled", "closed")
    )
    rows = []
    for each in matters:
        told = each.told[0].at if each.told else None
        times = (each.opened_at, each.last_at, told, each.settled_at, each.closed_at)
        shown = (local_time(at, zone) for at in times)
        rows.append((each.name, str(each.state), str(each.level), *shown))
    yield Table(heads, rows)


def explain_matter(matter: Matter, zone: ZoneInfo, limits: Limits) -> Iterator[Block]:
    """One matter: its rule, its rows in time order, and its state."""
    verdict, shift = matter.verdict, matter.shift
    yield f"{matter.name}: {matter.state}, {matter.level}"
    yield f"    {EXPLAIN.say('any.rule', question=DANGERS[matter.rule].question(limits))}"
    opened = EXPLAIN.say(
        "matter.opened",
        at=local_time(matter.opened_at, zone),
        unit=matter.unit,
        start=local_time(shift.start, zone),
        end=local_time(shift.end, zone),
    )
    yield f"    {opened}"
    yield from value_and_limit(verdict, zone)
    events = sorted(_events(matter), key=lambda event: event[0])
    rows = [(place, local_time(at, zone), says, does) for at, place, says, does in events]
    yield Table(columns("row", "time", "says", "does"), rows)
    told = ", ".join(local_time(each.at, zone) for each in matter.told)
    settled = "matter.settled"
    if matter.settled_at:
        settled = "matter.settled-by-person" if matter.settled_by else "matter.settled-by-record"
    yield f"    {EXPLAIN.say('matter.told', times=told or NONE)}"
    yield f"    {EXPLAIN.say(settled, at=local_time(matter.settled_at, zone))}"
    yield f"    {EXPLAIN.say('matter.closed', at=local_time(matter.closed_at, zone))}"
    yield f"    {EXPLAIN.say('matter.level', level=matter.level, why=_why_this_level(matter))}"
    steps = list(_what_would_close_it(matter, zone))
    if steps:
        yield f"    {EXPLAIN.say('matter.what-closes')}"
        yield from (f"        {step}" for step in steps)


def value_and_limit(verdict: Verdict, zone: ZoneInfo) -> Iterator[str]:
    """What met the rule, when, and what it was compared with."""
    of_value = "verdict.value-at" if verdict.at else "verdict.value"
    value, limit = with_unit(verdict.value, verdict.unit), with_unit(verdict.limit, verdict.unit)
    yield f"    {EXPLAIN.say(of_value, value=value, at=local_time(verdict.at, zone))}"
    yield f"    {EXPLAIN.say('verdict.limit', value=limit)}"
    yield f"    {EXPLAIN.say('verdict.source', source=verdict.source)}"


def _events(matter: Matter) -> Iterator[tuple[datetime, str, str, str]]:
    """Time, place, content and effect of each row; rows of the same minute in the order in which
    they are judged.
    """
    for row in matter.rows:
        does = EXPLAIN.say("does.opens" if row is matter.rows[0] else "does.meets")
        yield row.at, str(row.place), in_words(row), does
    looks = (*matter.looked_before, *matter.looked)
    all_of_it = len({*matter.unsettled, *(look.part for look in looks)}) == 1
    for look in looks:
        row, does = look.row, _looked(look, EXPLAIN.say("does.it" if all_of_it else "does.part"))
        yield row.at, str(row.place), in_words(row), does
    heard = [
        *((told, EXPLAIN.say("does.told")) for told in matter.told),
        *((told, EXPLAIN.say("does.told-unknown")) for told in matter.about_unknown),
        *((told, EXPLAIN.say("does.told-before")) for told in matter.told_before),
        *((row, EXPLAIN.say("does.settled-before")) for row in matter.settled_before),
        *((row, EXPLAIN.say("does.settled")) for row in (matter.settled_by,) if row),
    ]
    for told, does in heard:
        yield told.at, str(told.place), f'"{" ".join((told.note or "").split())}"', does


def _looked(look: Look, it: str) -> str:
    """What was looked at again, and whether that settles it, or why not."""
    what = VITALS[look.part].name if look.part in VITALS else EXPLAIN.say(f"part.{look.part}")
    if look.why_not is None:
        return EXPLAIN.say("does.settles", what=what, it=it)
    why = EXPLAIN.say(f"why-not.{look.why_not}")
    return EXPLAIN.say("does.no-settling", what=what, it=it, why=why)


def _why_this_level(matter: Matter) -> str:
    """Why it escalates, is followed up, or is only noted."""
    if matter.eased:
        return EXPLAIN.say("matter.eased", why=EXPLAIN.say(f"eased.{matter.eased}"))
    return EXPLAIN.say(f"why-level.{matter.state}.{matter.level}")


def _what_would_close_it(matter: Matter, zone: ZoneInfo) -> Iterator[str]:
    """What is still missing to close it: the telling, the settling, or both."""
    about = EXPLAIN.say("close.or").join((*matter.about, "all"))
    last, since = local_time(matter.last_at, zone), local_time(matter.settles_from, zone)
    if not matter.is_told:
        yield EXPLAIN.say("close.tell", last=last, about=about)
        if matter.about_unknown:
            yield f"    {EXPLAIN.say('close.tell-unknown')}"
    if matter.settled_at is not None:
        return
    for part in matter.unsettled:
        if part == NO_SYMPTOM:
            yield EXPLAIN.say("close.symptoms", since=since)
        elif part == VOLUME:
            usual = with_unit(matter.fell_from_ml, "mL")
            yield EXPLAIN.say("close.volume", percent=VOLUME_PERCENT_OVER, usual=usual, since=since)
        else:
            yield EXPLAIN.say("close.vital", sign=VITALS[part].name, since=since)
    if LOW_OXYGEN.name in matter.unsettled and not matter.sign:
        oxygen = {AIR: "air", "": "not-on-oxygen"}.get(matter.wanted_oxygen, "no-more")
        yield f"    {EXPLAIN.say(f'wanted-oxygen.{oxygen}')}"
    yield EXPLAIN.say("close.by-person", last=last, about=about)
