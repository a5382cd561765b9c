"""A finding of every code."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import chdir
from datetime import date
from pathlib import Path
from unittest.mock import patch
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from handoff.compose.export import set_aside_csv
from handoff.compose.languages import UnitWords, not_translated
from handoff.compose.words import WordingError, Words
from handoff.draw.paper import Typesetter, letters_lacking
from handoff.fhir.bundle import not_in_a_bundle
from handoff.fhir.codes import load_codes
from handoff.gather import gather
from handoff.gather.across import time_shared
from handoff.judge.doubts import with_doubts
from handoff.limits.reading import load_limits
from handoff.model.bounds import Bounds
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.read import read
from handoff.run.review import Weeks, review_unit
from handoff.run.units import UnitLogs
from tests.fhir.bad_sendings import found_of_sendings
from tests.fhir.bad_servers import found_of_servers
from tests.support.bad_bundles import BAD_BUNDLES
from tests.support.bad_logs import BAD_HANDOVERS, BAD_LOGS, ENTRY, PATIENT, night, shift
from tests.support.bad_units_own_files import BAD_CODES, BAD_LIMITS, BAD_WORDS, BadFile
from tests.support.builders import default_limits, patient
from tests.support.bundles import checked
from tests.support.logs import NOW, check_file, log_of, options, read_handovers

Found = list[Finding]
LATER = "2026-03-08 01:00", "2026-03-08 13:00"  # six hours of it are the night's too


def findings_by_code() -> dict[str, Found]:
    """What is found in the one log or file that each code has in the tests, in a new folder."""
    with tempfile.TemporaryDirectory() as folder, chdir(folder):
        return dict(
            [
                *_of_logs(),
                *((code, list(checked(bad.content)[1])) for code, bad in BAD_BUNDLES.items()),
                *_of_handovers(),
                *_of_limits(),
                *_of_codes(),
                *_of_writing(),
                *_of_words(),
                *_of_languages(),
                *_of_weeks(),
                *_of_servers(),
                *_of_what_cannot_be_a_file(),
            ]
        )


def _of_logs() -> Iterator[tuple[str, Found]]:
    for code, bad in BAD_LOGS.items():
        if bad.content is not None:
            content = bad.content if isinstance(bad.content, bytes) else bad.content.encode()
            Path(bad.name).write_bytes(content)
        yield code, list(check_file(Path(bad.name), bad.options)[1])


def _of_handovers() -> Iterator[tuple[str, Found]]:
    for code, bad in BAD_HANDOVERS.items():
        logs = [log_of(text, name) for name, text in bad.logs.items()]
        handovers, found = gather(logs, bad.as_of, NOW)
        doubts = (with_doubts(each, default_limits())[1] for each in handovers)
        yield code, [*found, *(each for of_one in doubts for each in of_one)]


def _of_limits() -> Iterator[tuple[str, Found]]:
    for code, bad in BAD_LIMITS.items():
        _write(bad)
        yield code, load_limits(bad.name)[1]


def _of_codes() -> Iterator[tuple[str, Found]]:
    for code, bad in BAD_CODES.items():
        _write(bad)
        yield code, load_codes(bad.name)[1]


def _of_writing() -> Iterator[tuple[str, Found]]:
    taught = PATIENT + "  teaching: {taught: sometime}\n"
    yield "fhir-not-written", list(not_in_a_bundle(log_of(night(patients=taught))))


def _of_words() -> Iterator[tuple[str, Found]]:
    for code, bad in BAD_WORDS.items():
        _write(bad)
        try:
            Words(ZoneInfo("UTC"), own_folder=".").say("bed")
        except WordingError as error:
            yield code, [error.why]


def _of_languages() -> Iterator[tuple[str, Found]]:
    own = Path("own_languages/tlh")
    own.mkdir(parents=True)
    (own / "discharge.yaml").write_text("language: {name: tlhIngan}\n", encoding="utf-8")
    for code, language, folder in (
        ("missing-words", "tlh", str(own.parent)),
        ("no-such-language", "qya", None),
    ):
        try:
            UnitWords(ZoneInfo("UTC"), language, folder).of(patient())
        except WordingError as error:
            yield code, [error.why]
    (own.parent / "discharge.yaml").write_text("discharge: {title: Home}\n", encoding="utf-8")
    yield "words-not-translated", not_translated([patient()], "es", str(own.parent))


def _of_weeks() -> Iterator[tuple[str, Found]]:
    night_log, later = log_of(night()), log_of(night(shift=shift(*LATER)), "later.yaml")
    yield "time-shared", list(time_shared([night_log, later]))
    unit = UnitLogs((night_log,), (), None, NOW)
    weeks = Weeks(date(2026, 4, 1), date(2026, 4, 30))
    yield "no-shift-in-period", list(review_unit(unit, default_limits(), weeks).findings)


def _of_servers() -> Iterator[tuple[str, Found]]:
    for code, found in found_of_servers(Path.cwd()).items():
        yield code, [found]
    yield from found_of_sendings(Path.cwd() / "sendings").items()


def _write(bad: BadFile) -> None:
    Path(bad.name).unlink(missing_ok=True)
    if bad.content is not None:
        Path(bad.name).write_bytes(bad.content)


def _of_what_cannot_be_a_file() -> Iterator[tuple[str, Found]]:
    """Findings that need more than one small log: rights, a limit, fonts, a file made before."""
    log = Path("night.yaml")
    log.write_text(night(ENTRY.replace("19:40", "19:4O")), encoding="utf-8")
    with patch.object(Path, "open", side_effect=PermissionError(13, "Permission denied")):
        yield "no-permission", list(read(str(log)).findings)
    Path("large.csv").write_bytes(b"x" * (2**20 + 1))
    yield "file-too-large", list(read("large.csv", Bounds(size_mb=1)).findings)
    yield "too-many-rows", list(read(str(log), Bounds(rows=0)).findings)
    yield "bad-file-name", list(read("night\u202e.yaml").findings)
    yield "same-file", read_handovers([str(log), f"./{log}"], options(), None)[1]
    older = Path("older.yaml")
    older.write_text(night(ENTRY.replace("8", "9")), encoding="utf-8")
    log.write_text(night(), encoding="utf-8")
    os.utime(older, (0, 0))
    versions = [str(log), str(older)]
    yield "two-versions", read_handovers(versions, options(), None)[1]
    yield "older-version", read_handovers(versions, replace(options(), newest=True), None)[1]
    log.write_text(night(ENTRY.replace("19:40", "19:4O")), encoding="utf-8")
    yield "letters-not-in-font", letters_lacking([patient(name="王 Wang")], Typesetter())
    of_page = finding("time-of-the-page", Place(""), "at", "19:40", minutes=30)
    # The desk asks these four of its form: tests/desk/test_entering.py
    yield "time-of-the-page", [of_page]
    for code in ("entry-again", "volume-over-scale", "volume-far-over-best"):
        words = {"scale_ml": 2500, "times": 3, "hours": 72, "best_ml": 1100}
        yield code, [finding(code, Place(""), "volume_ml", "4000", **words)]
    (handover,), _ = read_handovers([str(log)], options(), None)
    rows = set_aside_csv(handover.logs).decode().replace("19:4O,,,,8", "19:40,,,,8")
    Path("mended.csv").write_text(rows, encoding="utf-8")
    yield "mended-row", read_handovers([str(log), "mended.csv"], options(), None)[1]
    Path("mended.csv").write_text(rows.replace("not-a-time", "missing-cell"), encoding="utf-8")
    yield "mended-row-in-doubt", read_handovers([str(log), "mended.csv"], options(), None)[1]
    Path("mended.csv").write_text(rows, encoding="utf-8")
    Path("mended-again.csv").write_text(rows.replace("19:40,,,,8", "19:45,,,,8"), encoding="utf-8")
    both = [str(log), "mended.csv", "mended-again.csv"]
    yield "mended-row-twice", read_handovers(both, options(), None)[1]
