"""A log that is written and read back is the same log: unit, shift, patients and every row.

What is lost, and so not compared: what was probably meant by a cell that cannot be read, rows that
are set aside, and what `handoff/fhir/mapping.md` names. A round trip cannot find a mistake that
writer and reader share: what each writes and reads stands in the other tests, typed by hand.
"""

import json
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from handoff.check import check
from handoff.fhir.bundle import collection
from handoff.log.fields import ABOUT, MAY_BE_USUAL
from handoff.model.findings import Finding, Severity
from handoff.model.ward import (
    NO_SIGNS,
    NOWHERE,
    Counts,
    Entry,
    Flow,
    Log,
    Order,
    Patient,
    Position,
    SeenBy,
    Shift,
    Signs,
    Symptom,
    Unit,
    What,
)
from handoff.read import Exchange, parse
from tests.support.full_log import CHANGED, FULL
from tests.support.how_many import few
from tests.support.logs import log_of, options
from tests.support.runs import sheets
from tests.support.samples import AUTUMN, MESSY, NIGHT_CSV, SHIFTS, SPRING, checked
from tests.support.written_bundles import SYSTEM, default_codes

EXCHANGE = Exchange(SYSTEM)


def there_and_back(log: Log) -> tuple[Log, list[Finding]]:
    text = collection(default_codes(), SYSTEM, log).decode()
    back, findings = check(
        parse(text, "night.json", exchange=EXCHANGE), replace(options(), exchange=EXCHANGE)
    )
    assert back is not None, findings
    return back, list(findings)


def people(log: Log) -> list[Patient]:
    return [replace(each, place=NOWHERE) for each in log.patients]


def rows(log: Log) -> list[tuple[object, ...]]:
    return [each.content for each in log.entries]


SAMPLES = [*SHIFTS, NIGHT_CSV, SPRING, AUTUMN]


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_a_sample_log_is_the_same_after_it(path: Path) -> None:
    log = checked(path)
    back, findings = there_and_back(log)
    assert (back.unit, back.shift) == (log.unit, log.shift)
    assert people(back) == people(log)
    assert rows(back) == rows(log)
    errors = [each.code for each in findings if each.severity is Severity.ERROR]
    assert errors == ["fhir-set-aside"] * len(log.set_aside)


@pytest.mark.parametrize("text", [FULL, CHANGED], ids=["every field", "a changed order"])
def test_a_small_log_is_the_same_after_it(text: str) -> None:
    log = log_of(text)
    back, _ = there_and_back(log)
    assert (back.unit, back.shift) == (log.unit, log.shift)
    assert people(back) == people(log)
    assert rows(back) == rows(log)


def test_a_cell_that_cannot_be_read_stays_one_and_keeps_what_is_written_in_it() -> None:
    cells = '{patient: "10442", at: 19:40, breaths: 8, volume_ml: 1l50, spo2: 8o, symptoms: dizy}'
    log = log_of(FULL.partition("entries:")[0] + f"entries:\n- {cells}\n")
    back, findings = there_and_back(log)
    assert rows(back) == rows(log)
    assert (log.entries[0].likely.spo2, log.entries[0].signs.spo2) == (80, None)
    assert {(each.field, each.raw) for each in findings if each.code == "fhir-absent"} == {
        ("volume_ml", "1l50"),
        ("spo2", "8o"),
        ("symptoms", "dizy"),
    }


def test_a_messy_log_keeps_its_moves_and_what_cannot_be_read() -> None:
    log = checked(MESSY)
    back, _ = there_and_back(log)
    assert people(back) == people(log)
    assert any(each.moved for each in back.patients)
    assert sorted(map(repr, rows(back))) == sorted(map(repr, rows(log)))
    assert any(each.unread for each in back.entries)


def test_a_row_set_aside_stays_so_with_its_cells_and_a_danger_in_it() -> None:
    gone = (
        '{patient: "10442", at: 2026-03-08 02:30, symptoms: [faint], note: at the toilet}',
        '{patient: "10424", at: 20:00, spo2: 84, breaths: 10}',
    )
    log = log_of(FULL.partition("entries:")[0] + "".join(["entries:", *(f"\n- {x}" for x in gone)]))
    back, findings = there_and_back(log)
    assert back.counts == log.counts == Counts(2, 0, 2)
    kept = [
        [(each.raw, each.patient_id, each.signs) for each in one.set_aside] for one in (back, log)
    ]
    assert kept[0] == kept[1]
    assert [each.raw for each in findings if each.code == "fhir-set-aside"] == [
        each.reason.message for each in log.set_aside
    ]


def test_the_rows_of_a_messy_log_that_are_set_aside_add_up() -> None:
    log = checked(MESSY)
    back, _ = there_and_back(log)
    assert len(back.set_aside) == len(log.set_aside) > 0
    patients = [[each.patient_id for each in one.set_aside] for one in (back, log)]
    assert patients[0] == patients[1]


def test_the_ward_prints_the_same_pages_from_its_bundles(tmp_path: Path) -> None:
    latest = SHIFTS[-2:]
    for path in latest:
        bundle = collection(default_codes(), SYSTEM, checked(path))
        (tmp_path / f"{path.stem}.json").write_bytes(bundle)
    beds = [each for bed in ("3A", "5B", "8A", "9B") for each in ("--bed", bed)]
    from_yaml = sheets(tmp_path / "yaml", *map(str, latest), *beds)
    from_json = sheets(tmp_path / "json", *map(str, sorted(tmp_path.glob("*.json"))), *beds)
    pages = {name for name in from_yaml if name.endswith(".pdf")}
    assert {"unit-summary.pdf", "patient-sheets.pdf", "patients/bed-3A.pdf"} < pages
    assert {name: from_json[name] for name in pages} == {name: from_yaml[name] for name in pages}
    measures = [plain(json.loads(each["measures.json"])) for each in (from_yaml, from_json)]
    assert measures[0] == measures[1]


def plain(document: dict[str, Any]) -> dict[str, Any]:
    """The measures without what names rows of a file."""
    for patient in document["patients"]:
        for caution in patient["cautions"] or ():
            del caution["entries"]
    return {**document, "findings": None, "counts": None}


# Random logs over the contract's fields.

ZONES = ["America/Halifax", "Europe/Berlin", "Asia/Kolkata", "Australia/Lord_Howe", "UTC"]
WORDS = (
    st.text("abcdefg ÄéΩЖ,.'\"<&{}:;-19", min_size=1, max_size=30)
    .map(str.strip)
    .filter(lambda text: any(map(str.isalpha, text)) and "  " not in text)
)


HOURS = st.lists(st.integers(0, 100), max_size=2)


def tenths(low: float, high: float) -> st.SearchStrategy[float]:
    return st.integers(round(low * 10), round(high * 10)).map(lambda each: each / 10)


def maybe(what: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | what


@st.composite
def signs(draw: st.DrawFn) -> Signs:
    on_oxygen = draw(maybe(st.booleans()))
    symptoms = st.frozensets(st.sampled_from(sorted(set(Symptom) - {Symptom.NONE})), max_size=3)
    return Signs(
        symptoms=draw(symptoms | st.just(frozenset({Symptom.NONE}))),
        pain=draw(maybe(st.integers(0, 10))),
        spo2=draw(maybe(tenths(50, 100))),
        resp_rate=draw(maybe(tenths(0, 80))),
        pulse=draw(maybe(tenths(0, 300))),
        temp_c=draw(maybe(tenths(25, 45))),
        on_oxygen=on_oxygen,
        oxygen=draw(maybe(st.sampled_from(["2 L nasal", "28 %"]))) if on_oxygen else None,
    )


@st.composite
def entries(draw: st.DrawFn, patient_id: str, at: datetime) -> Entry:
    what = draw(st.sampled_from([What.EXERCISE] * 4 + [*What]))
    end = at + timedelta(minutes=draw(st.integers(1, 600)))
    until = None
    if what in (What.AWAY, What.ASLEEP):
        until = end
    elif what in (What.EXERCISE, What.HOLD):
        until = draw(maybe(st.just(end)))
    exercise: dict[str, Any] = {}
    if what is What.EXERCISE:
        exercise = {
            "breaths": draw(st.integers(0, 200)),
            "volume_ml": draw(maybe(tenths(100, 6000))),
            "hold_s": draw(maybe(tenths(0, 60))),
            "flow": draw(maybe(st.sampled_from([Flow.STEADY, Flow.FAST, Flow.SLOW, Flow.BLEW]))),
        }
    of_both = draw(signs())
    if what is What.SEEN and of_both == NO_SIGNS:
        of_both = Signs(pulse=80.0)
    elif what is What.NOTE:
        of_both = NO_SIGNS
    is_observed = what not in (What.TOLD, What.DECLINED)
    topics = st.lists(st.sampled_from(ABOUT), max_size=3, unique=True)
    about = draw(topics) if what in (What.TOLD, What.SETTLED) else []
    return Entry(
        patient_id,
        at,
        NOWHERE,
        until=until,
        what=what,
        seen_by=draw(maybe(st.sampled_from(SeenBy))),
        position=draw(maybe(st.sampled_from(Position))) if is_observed else None,
        signs=of_both,
        note=draw(WORDS) if what is What.NOTE else draw(maybe(WORDS)),
        about=tuple(sorted(about, key=ABOUT.index)),
        **exercise,
    )


@st.composite
def orders(draw: st.DrawFn, start: datetime) -> Order:
    low, high = draw(maybe(tenths(60, 80))), draw(maybe(tenths(81, 99)))
    usual = st.lists(st.sampled_from(MAY_BE_USUAL), max_size=3, unique=True)
    stop = maybe(st.integers(1, 200).map(lambda hours: start + timedelta(hours=hours)))
    return Order(
        start=start,
        stop=draw(stop),
        breaths=draw(st.integers(1, 200)),
        every_h=draw(st.integers(1, 24)),
        goal_ml=draw(maybe(tenths(100, 6000))),
        hold_s=draw(tenths(0, 60)),
        by=draw(maybe(WORDS)),
        spo2_min=low,
        spo2_max=high,
        resp_rate_max=draw(maybe(tenths(5, 80))),
        pulse_min=draw(maybe(tenths(5, 100))),
        temp_max=draw(maybe(tenths(30, 45))),
        usual_symptoms=tuple(sorted(draw(usual), key=MAY_BE_USUAL.index)),
        comfort_care=draw(maybe(st.booleans())),
    )


def done(at: datetime) -> st.SearchStrategy[Any]:
    return st.sampled_from([None, True, False, at, at - timedelta(hours=5)])


@st.composite
def patients(draw: st.DrawFn, number: int, shift: Shift) -> Patient:
    begun = shift.start - timedelta(hours=draw(st.integers(0, 90)))
    given = draw(done(begun))
    starts = sorted({begun + timedelta(hours=each) for each in draw(HOURS)})
    ordered = [draw(orders(start)) for start in starts]
    return Patient(
        id=f"00{10000 + number}",
        name=draw(WORDS),
        born=draw(st.dates(date(1920, 1, 1), date(2020, 1, 1))),
        bed=f"{number}B",
        place=NOWHERE,
        sex=draw(st.sampled_from([None, "female", "male"])),
        height_cm=draw(maybe(tenths(100, 230))),
        weight_kg=draw(maybe(tenths(5, 350))),
        reason=draw(maybe(WORDS)),
        surgery_on=draw(maybe(st.dates(date(2026, 2, 1), date(2026, 3, 7)))),
        order=ordered[-1] if ordered else None,
        earlier_orders=tuple(ordered[:-1]),
        baseline_ml=draw(maybe(tenths(100, 6000))),
        device_given=given,
        device_labelled=draw(maybe(st.booleans())),
        device_scale_ml=draw(maybe(tenths(1000, 6000))),
        taught=draw(done(begun)),
        shown_back=draw(done(begun)),
        home_on=draw(maybe(st.dates(date(2026, 3, 7), date(2026, 3, 30)))),
        precautions=draw(maybe(WORDS)),
    )


@st.composite
def logs(draw: st.DrawFn) -> Log:
    zone = ZoneInfo(draw(st.sampled_from(ZONES)))
    start = datetime(2026, 3, draw(st.integers(6, 9)), 19, 0, tzinfo=zone)
    first = start.astimezone(ZoneInfo("UTC"))
    names = [draw(maybe(WORDS)) for _ in range(3)]
    shift = Shift(first, first + timedelta(hours=12), *names)
    everyone = [draw(patients(number, shift)) for number in range(draw(st.integers(1, 3)))]
    minutes = draw(st.lists(st.integers(0, 719), max_size=8, unique=True))
    charted = [
        draw(entries(draw(st.sampled_from(everyone)).id, first + timedelta(minutes=each)))
        for each in sorted(minutes)
    ]
    rest = draw(st.sampled_from([None, (time(22), time(6)), (time(13, 30), time(14))]))
    unit = Unit(draw(WORDS), zone, rest, draw(maybe(WORDS)), draw(maybe(st.just("902-555-0144"))))
    return Log("", unit, shift, tuple(everyone), tuple(charted), (), Counts(0, 0, 0), ())


@settings(max_examples=few(8))
@given(logs())
def test_a_random_log_is_the_same_after_it(log: Log) -> None:
    back, findings = there_and_back(log)
    assert (back.unit, back.shift) == (log.unit, log.shift)
    assert people(back) == people(log)
    assert rows(back) == rows(log)
    assert back.set_aside == ()
    assert dict(of_lost_cells(findings)) == {}


def of_lost_cells(findings: list[Finding]) -> Iterator[tuple[str, str]]:
    """The findings that come from the exchange itself."""
    for each in findings:
        if each.code.startswith("fhir-") and each.severity is Severity.ERROR:
            yield each.code, str(each.place)
