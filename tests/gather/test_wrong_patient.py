"""Every printed page is of one patient: two identifiers of theirs, and nothing of anybody else.

Read back from the PDFs of the sample ward and of random wards, made to be mixed up: names that are
nearly one, ids with digits swapped, beds changed between shifts, rows and logs in any order. Two
random wards in the suite; `pytest tests/gather/test_wrong_patient.py --wards 500` prints more.
"""

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from random import Random

import pytest

from handoff.cli import main as cli
from tests.support.hostile import table
from tests.support.logs import options, read_handovers
from tests.support.runs import WARD, content, of_ward
from tests.support.sheets import Piece, read_pdf
from tests.support.translated import CODES, words_in

ORDERS: Mapping[str, tuple[str, ...]] = {"in this process": (), "in a pool": ("--jobs", "2")}
A_RUN = 25  # wards printed together
BETWEEN_LINES_PT = 12  # of one block; between two there is more
LETTERS = "bcdfghjklmnpqrstvwxz"


@dataclass(frozen=True)
class Person:
    """Who somebody is, and what was written of nobody else."""

    id: str
    name: str
    born: date
    texts: frozenset[str]
    volumes: frozenset[int] = frozenset()

    @property
    def born_on(self) -> tuple[str, ...]:
        """The birth date as a sheet has it, and as a page to take home in each language."""
        day, _, year = f"{self.born:%d-%m-%Y}".split("-")
        at_home = (words_in(code).long_full_day(self.born) for code in CODES)
        return (f"{int(day)} {self.born:%b} {year}", *at_home)

    def is_told_in(self, page: str) -> list[str]:
        """Which of the three identifiers stand on a page."""
        told = {"name": (self.name,), "id": (self.id,), "born": self.born_on}
        return [
            kind
            for kind, forms in told.items()
            if any(re.search(rf"(?<!\w){re.escape(form)}(?!\w)", page) for form in forms)
        ]


def assert_of_one(pages: list[str], person: Person, people: tuple[Person, ...]) -> None:
    """Each page names this person twice over, and says nothing that is another's; but for the back
    of a leaf that is left blank.
    """
    for page in filter(None, pages):
        assert len(person.is_told_in(page)) > 1, person
        for other in people:
            if other.id != person.id:
                assert other.is_told_in(page) == [], other
                theirs = (text for text in other.texts - person.texts if text in page)
                assert list(theirs) == [], other


def blocks(pieces: list[Piece]) -> Iterator[str]:
    """The text of each line of a list and each row of a table, which have space around them."""
    block: list[Piece] = []
    for piece in sorted(pieces, key=lambda piece: -piece.baseline):
        if block and piece.baseline < block[-1].baseline - BETWEEN_LINES_PT:
            yield " ".join(each.text for each in block)
            block = []
        block.append(piece)
    yield " ".join(each.text for each in block)


def assert_every_row_is_of_one(summary: bytes, people: tuple[Person, ...]) -> None:
    """Wherever the summary of a unit says something of somebody, it is of the one named there."""
    rows = 0
    for block in (block for page in read_pdf(summary).pieces for block in blocks(page)):
        named = [each for each in people if "id" in each.is_told_in(block)]
        volumes = {int(each.replace(",", "")) for each in re.findall(r"([\d,]+) mL", block)}
        spoken_of = [
            each
            for each in people
            if volumes & each.volumes or any(text in block for text in each.texts)
        ]
        assert len(named) <= 1, block
        assert set(spoken_of) <= set(named), block
        rows += len(named)
    assert rows >= len(people)


def assert_every_page_is_of_one(files: Mapping[str, bytes], people: tuple[Person, ...]) -> int:
    """The sheets, the same sheets joined, and the pages to take home; how many pages there were."""
    by_id = {person.id: person for person in people}
    measured = json.loads(files["measures.json"])["patients"]
    by_bed = {each["bed"]: by_id[each["id"]] for each in measured}
    singles, pages = [], 0
    for name in sorted(files):
        kind, _, file = name.partition("/bed-")
        if kind in ("patients", "discharge"):
            person = by_bed[file.removesuffix(".pdf")]
            read, volumes = read_pdf(files[name]).pages, person.volumes
            assert_of_one(read, person, people)
            pages += len(read)
            if kind == "patients":
                (sheet,) = read
                assert re.search(rf"\bid {person.id} · born {person.born_on[0]}\b", sheet)
                assert sheet.startswith(f"bed {file.removesuffix('.pdf')}")
                bests = re.findall(r"Best ([\d,]+) mL at", sheet)
                assert not volumes or {int(best.replace(",", "")) for best in bests} <= volumes
                singles.append(sheet)
    assert_every_row_is_of_one(files["unit-summary.pdf"], people)
    assert sorted(read_pdf(files["patient-sheets.pdf"]).pages) == sorted(singles)
    return pages


def test_every_page_of_the_sample_ward_is_of_one_patient() -> None:
    (handover,), _ = read_handovers([*WARD], options(), None)
    notes = {
        patient_id: frozenset(
            each.note[:50] for each in entries if each.note and len(each.note) > 15
        )
        for patient_id, entries in handover.entries.items()
    }
    people = tuple(
        Person(each.id, each.name, each.born, notes[each.id])
        for each in handover.patients
        if each.born
    )
    assert len(people) == len(handover.patients)
    files = of_ward()
    pages = assert_every_page_is_of_one(files, people)
    assert pages >= len(json.loads(files["measures.json"])["patients"])


def random_word(random: Random) -> str:
    return "".join(random.choices(LETTERS, k=7))


def random_people(random: Random) -> tuple[Person, ...]:
    """Two to four people who are easily mixed up, each with words and volumes of their own."""
    surname, first_id = random_word(random).capitalize(), random.randrange(10_000, 89_999)
    people = []
    for number in range(random.randint(2, 4)):
        # The same family name or one with a letter more; an id that is one further.
        own = surname + random.choice(("", "", LETTERS[number]))
        name = f"{own}, {random.choice(('Odile', 'Odil', 'Odette'))} {random_word(random)}"
        born = date(1940, 3, 7) + timedelta(days=number * random.choice((1, 9, 365)))
        texts = frozenset(f"{kind} {random_word(random)}" for kind in ("rib", "Dr", *["said"] * 4))
        volumes = frozenset(random.sample(range(700 + number, 2300, 4), 8))
        people.append(Person(str(first_id + number), name, born, texts, volumes))
    return tuple(people)


def random_logs(random: Random, unit: str, people: tuple[Person, ...]) -> Iterator[tuple[str, str]]:
    """(suffix, text) of an earlier and of the latest shift; between the two the beds may change."""
    for start, end in (("03-06 19:00", "03-07 07:00"), ("03-07 07:00", "03-07 19:00")):
        beds = random.sample(("1", "2", "3", "12", "21"), len(people))
        patients = dict(zip([person.id for person in people], beds, strict=True))
        rows = [
            row
            for person in people
            for row in rows_of(random, person, patients[person.id], (start[:5], int(start[6:8])))
        ]
        random.shuffle(rows)
        told = {"unit": unit, "time_zone": "UTC", "quiet_hours": "none"}
        told |= {"shift_start": f"2026-{start}", "shift_end": f"2026-{end}"}
        yield ".csv", table([{**told, **row} for row in rows])


def rows_of(
    random: Random, person: Person, bed: str, start: tuple[str, int]
) -> Iterator[dict[str, str]]:
    """Exercises, notes, somebody told; in each row who it is, as a spreadsheet has it."""
    reason, by, *said = sorted(
        person.texts, key=lambda text: ("rib", "Dr", "said").index(text.split()[0])
    )
    who = {
        "patient_id": person.id,
        "name": person.name,
        "born": str(person.born),
        "bed": bed,
        "reason": reason,
        "order_by": by,
        "order_start": "2026-03-06 10:00",
        "goal_ml": "2400",
        "home_on": random.choice(("", "2026-03-08")),
        "taught": "yes",
    }
    day, hour = start
    for volume in random.sample(sorted(person.volumes), 4):
        at = f"2026-{day} {hour:02}:{random.randrange(60):02}"
        spo2 = random.choice(("", "96", "88"))
        yield {**who, "at": at, "volume_ml": str(volume), "breaths": "8", "spo2": spo2}
        hour += 1
    for note in random.sample(said, 3):
        at = f"2026-{day} {hour:02}:{random.randrange(60):02}"
        yield {**who, "at": at, "what": random.choice(("note", "told")), "note": note}


@pytest.mark.parametrize("order", ORDERS)
def test_every_page_of_random_wards_is_of_one_patient(
    order: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    wards = request.config.getoption("--wards")
    for first in range(0, wards, A_RUN):
        units: dict[str, tuple[Person, ...]] = {}
        logs: list[Path] = []
        for number in range(first, min(first + A_RUN, wards)):
            random = Random(number)
            unit = f"Ward {number}"
            units[f"Ward-{number}"] = random_people(random)
            for suffix, text in random_logs(random, unit, units[f"Ward-{number}"]):
                logs.append(tmp_path / f"{number}-{len(logs)}{suffix}")
                logs[-1].write_text(text)
        Random(first).shuffle(logs)
        out = tmp_path / "out"
        given = ["--debug", "sheets", *map(str, logs), *ORDERS[order], "--out", str(out)]
        assert cli.main(given) in (cli.DONE, cli.DONE_WITH_ERRORS)
        for unit, people in units.items():
            try:
                # Several units have a folder each.
                printed = out / unit if len(units) > 1 else out
                assert_every_page_is_of_one(content(printed), people)
            except AssertionError as error:
                error.add_note(unit)
                raise


def test_a_page_that_is_not_of_one_patient_is_seen() -> None:
    """So that the checks above are known to look."""
    larkspur, quince = people = random_people(Random(0))[:2]
    good = f"{larkspur.name} id {larkspur.id} born {larkspur.born_on[0]}"
    assert_of_one([good], larkspur, people)
    stranger = sorted(quince.texts)[0]
    for wrong in (
        *(larkspur.name, f"id {larkspur.id}", good.replace(larkspur.id, quince.id)),
        *(f"{good} {quince.name}", f"{good} {quince.born_on[1]}", f"{good} ({stranger})"),
    ):
        with pytest.raises(AssertionError):
            assert_of_one([wrong], larkspur, people)
