"""The open logs, and the results of the stages: kept until a file changes or a minute passes.

Input: paths of logs, and how the desk was started. Output: `Ward`s with hand-overs, findings,
results and words. Computes nothing itself.
"""

import hashlib
import hmac
import secrets
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from functools import cached_property
from pathlib import Path
from threading import Lock
from typing import TypeVar, cast

from msgspec import field

from handoff.check import Options, check
from handoff.compose.languages import UnitWords
from handoff.compose.results import Results
from handoff.compose.words import Words
from handoff.desk.drafts import Drafts
from handoff.desk.edits import history, logbook
from handoff.desk.edits.failures import EditError
from handoff.desk.edits.history import Change, Noted
from handoff.desk.edits.logbook import LogText
from handoff.desk.edits.written_here import WrittenHere
from handoff.gather.mended import holds_mended_rows
from handoff.judge.doubts import with_doubts
from handoff.limits.reading import Limits
from handoff.log.languages import PATIENT_PAGE, languages_with
from handoff.model.findings import Finding, Place, Severity
from handoff.model.frozen import Frozen
from handoff.model.ward import Handover, Log, Patient
from handoff.read import ANY_TEXT, NO_EXCHANGE, SUFFIXES, Exchange, RawLog, parse, read
from handoff.run.handovers import hand_over
from handoff.run.sheets import Printing, results_of

MOST_REMEMBERED = 1000
EARLY = timedelta(hours=24)  # before its start a log is taken for one made early
T = TypeVar("T")


class Setting(Frozen):
    """The settings of the desk: its folder, the user's options, how it prints, and its clock, the
    only one that the desk asks for the time.
    """

    folder: Path
    limits: Limits
    printing: Printing = field(default_factory=Printing)
    unit: str | None = None
    time_zone: str | None = None
    shift: str | None = None
    dates: str | None = None
    newest: bool = False
    exchange: Exchange = NO_EXCHANGE
    by: str | None = None  # who charts at this desk, for the history
    clock: Callable[[], datetime] = lambda: datetime.now(UTC)

    def options(self, now: datetime) -> Options:
        """The user's options for reading logs."""
        return Options(
            self.unit,
            self.time_zone,
            self.shift,
            self.dates,
            now,
            self.newest,
            self.exchange,
            languages_with(PATIENT_PAGE, self.printing.templates),
        )


class Ward(Frozen, dict=True):
    """The content of the open logs at one time. `raw_logs` are the logs as text, by path.

    `lost` are the logs that cannot be used, each with what is wrong: all else is without them.
    `to_come` are logs made early: they take over when their shift begins, and count for nothing
    before.
    """

    setting: Setting
    now: datetime
    raw_logs: Mapping[str, RawLog]
    handovers: tuple[Handover, ...]
    findings: tuple[Finding, ...]
    lost: Mapping[str, Finding] = field(default_factory=dict)
    to_come: Mapping[str, Log] = field(default_factory=dict)
    edition: str = field(default_factory=lambda: secrets.token_urlsafe(8))  # of no other ward
    _kept: dict[str, object] = field(default_factory=dict)

    def kept(self, name: str, make: Callable[[], T]) -> T:
        """What a page makes of this ward, made once."""
        if name not in self._kept:
            self._kept[name] = make()
        return cast("T", self._kept[name])

    @cached_property
    def results(self) -> tuple[Results, ...]:
        """The measures and verdicts of each unit."""
        return tuple(results_of(each, self.setting.limits) for each in self.handovers)

    @cached_property
    def words(self) -> tuple[Words, ...]:
        """The words of each unit's pages."""
        printing = self.setting.printing
        zones = (each.unit.time_zone for each in self.handovers)
        return tuple(UnitWords(zone, printing.language, printing.templates).staff for zone in zones)

    def patients(self) -> Iterator[tuple[int, Patient]]:
        """Every patient on a list, with the number of the unit, in bed order."""
        for number, handover in enumerate(self.handovers):
            for patient in handover.patients:
                yield number, patient


class Desk:
    """The open logs, and the rows that this run has written. One for all tabs."""

    def __init__(self, setting: Setting, paths: Sequence[str]) -> None:
        self.setting = setting
        # The row of each form that was carried out, and the change.
        self.added: dict[str, tuple[Place, Change]] = {}
        self.drafts = Drafts(setting.folder)
        self._secret = self.drafts.secret
        self._paths: tuple[str, ...] = ()
        self._raw_logs: dict[str, tuple[logbook.Stamp | None, RawLog]] = {}
        self._ward: tuple[object, Ward] | None = None
        self._gathering = Lock()  # tabs that ask at the same time wait for one `Ward`
        self._backed_up: dict[str, logbook.Stamp | None] = {}
        self.written_here = WrittenHere()
        self._changed: set[str] = set()  # logs that this run has replaced, or made as a copy
        self._not_kept: dict[str, list[Change]] = {}  # changes that no history has yet
        self.open(paths)

    def now(self) -> datetime:
        """The time, in UTC."""
        return self.setting.clock()

    @property
    def paths(self) -> tuple[str, ...]:
        """The open logs."""
        return self._paths

    def key(self, kind: str, *parts: str) -> str:
        """An opaque key for something in an address or a form; it is good for this run, and for
        the next one if something typed is left for it.
        """
        text = "\0".join((kind, *parts)).encode()
        return hmac.new(self._secret, text, hashlib.sha256).hexdigest()[:24]

    def path_of(self, key: str) -> str | None:
        """The path of a log by its key, open or in the folder."""
        known = [*self.paths, *self.in_folder()]
        return next((path for path in known if self.key("log", path) == key), None)

    def in_folder(self) -> list[str]:
        """The logs of the folder, newest first; a text that may be a log or a letter is none."""
        try:
            files = [each for each in self.setting.folder.iterdir() if each.is_file()]
        except OSError:
            return []
        logs = [each for each in files if each.suffix.lower() in SUFFIXES - {ANY_TEXT}]
        shown = [each for each in logs if not each.name.startswith(".")]
        return [str(each) for each in sorted(shown, key=lambda each: each.name, reverse=True)]

    def open(self, paths: Iterable[str]) -> None:
        """Open just these logs; one file under two names is opened once."""
        distinct = {Path(path).resolve(): path for path in paths}
        self._paths = tuple(distinct.values())

    def ward(self) -> Ward:
        """The content of the open logs now. The caller must not hold a log's lock."""
        now = self.now().replace(second=0, microsecond=0)
        stamped = {path: self._raw_log(path) for path in self.paths}
        state = now, self.setting, tuple((path, found) for path, (found, _) in stamped.items())
        with self._gathering:
            if self._ward is None or self._ward[0] != state:
                raw_logs = {path: raw_log for path, (_, raw_log) in stamped.items()}
                self._ward = state, self._gathered(raw_logs, now)
            return self._ward[1]

    def ward_with(self, ward: Ward, path: str, text: str) -> Ward:
        """The ward as if one of its logs had this text."""
        return self._gathered({**ward.raw_logs, path: parse(text, path)}, ward.now)

    def add(self, log: LogText, edited: str, noted: Noted) -> Change:
        """Add to a log; its lock must be held. Before the first time it is backed up where there is
        room: an addition takes nothing away, and is not refused for want of a backup.
        """
        if log.path not in self._backed_up:
            with suppress(EditError):
                self._back_up(log)
        was_backed_up = self.is_backed_up(log.path)
        logbook.add(log, edited)
        if was_backed_up:
            self._backed_up[log.path] = logbook.stamp(log.path)
        return self._note(log.path, log.text, edited, noted)

    def change(self, log: LogText, edited: str, noted: Noted) -> Change:
        """Change a log itself, after a backup of text by others; its lock must be held."""
        if not self.is_backed_up(log.path):
            self._back_up(log)
        logbook.change(log, edited)
        self._changed.add(log.path)
        self._backed_up[log.path] = logbook.stamp(log.path)
        return self._note(log.path, log.text, edited, noted)

    def change_copy(self, log: LogText, edited: str, noted: Noted) -> tuple[str, Change]:
        """Change a copy of a log, and open it instead of the log; the log's lock must be held."""
        copy = str(logbook.changed_copy(log, edited, "corrected"))
        self._backed_up[copy] = logbook.stamp(copy)
        self._changed.add(copy)
        self.open(copy if each == log.path else each for each in self.paths)
        self.written_here.moved(log.path, copy)
        return copy, self._note(copy, log.text, edited, noted)

    def history(self, path: str) -> tuple[Change, ...]:
        """The changes of a log that a desk made, oldest first."""
        return (*history.kept(path), *self._not_kept.get(path, ()))

    def is_kept(self, path: str) -> bool:
        """Whether all changes of a log stand in its history on disk."""
        return not self._not_kept.get(path)

    def forget(self, made: Change) -> None:
        """Forget the form that made a change: sent again, it is carried out again."""
        self.added = {form: each for form, each in self.added.items() if each[1].key != made.key}

    def remember(self, form: str, place: Place, made: Change) -> None:
        """Remember the place of a form's row: a form is carried out once."""
        self.added[form] = place, made
        while len(self.added) > MOST_REMEMBERED:
            del self.added[next(iter(self.added))]

    def is_backed_up(self, path: str) -> bool:
        """Whether the log's content is already backed up, or was written by this run alone."""
        known = self._backed_up.get(path)
        return known is not None and known == logbook.stamp(path)

    def offers_copy(self, path: str) -> bool:
        """Whether a correction may still leave the log as others wrote it, and go into a copy."""
        return path not in self._changed or not self.is_backed_up(path)

    def _back_up(self, log: LogText) -> None:
        logbook.back_up(log, self.now())
        self._backed_up[log.path] = logbook.stamp(log.path)

    def _note(self, path: str, before: str, after: str, noted: Noted) -> Change:
        """Write the change into the history. The log has it already, so that a history without room
        refuses nothing: the change is written with the next one.
        """
        made = history.change_of(before, after, noted, self.now(), self.setting.by)
        self.written_here.note(path, made)
        waiting = [*self._not_kept.pop(path, ()), made]
        try:
            history.keep(path, waiting)
        except EditError:
            self._not_kept[path] = waiting
        return made

    def _raw_log(self, path: str) -> tuple[logbook.Stamp | None, RawLog]:
        """The log as text, with its stamp, read while nobody adds to it."""
        found = logbook.stamp(path)
        known = self._raw_logs.get(path)
        if known is None or found is None or known[0] != found:
            try:
                with logbook.locked(path, shared=True):
                    known = logbook.stamp(path), self._read(path)
            except EditError:
                known = None, self._read(path)  # which says why it cannot be read
            self._raw_logs[path] = known
        return known

    def _read(self, path: str) -> RawLog:
        return read(path, exchange=self.setting.exchange)

    def _gathered(self, raw_logs: Mapping[str, RawLog], now: datetime) -> Ward:
        handovers: tuple[Handover, ...] = ()
        findings: list[Finding] = []
        lost: dict[str, Finding] = {}
        to_come: dict[str, Log] = {}
        if raw_logs:
            options = self.setting.options(now)
            handovers, findings = hand_over(list(raw_logs.values()), options, None)
            if not handovers:
                lost = _lost(raw_logs, options, findings)
            others = [each for path, each in raw_logs.items() if path not in lost]
            if lost and others:
                of_lost = [each for each in findings if each.place.file in lost]
                handovers, found = hand_over(others, options, None)
                findings = [*of_lost, *found]
            while early := _to_come(handovers, now):
                to_come |= early
                apart = [each for each in findings if each.place.file in {*lost, *to_come}]
                others = [each for each in others if each.file not in early]
                handovers, found = hand_over(others, options, None)
                findings = [*apart, *found]
            both = [with_doubts(each, self.setting.limits) for each in handovers]
            handovers = tuple(each for each, _ in both)
            findings += [found for _, of_one in both for found in of_one]
        return Ward(self.setting, now, raw_logs, handovers, tuple(findings), lost, to_come)


def _to_come(handovers: Iterable[Handover], now: datetime) -> dict[str, Log]:
    """The logs whose shift is still to come within a day, of units with a log of a shift that has
    begun. One of a later day is taken for a slip in its date, and a finding says so.
    """
    return {
        log.file: log
        for each in handovers
        for log in each.logs
        if now < log.shift.start <= now + EARLY and each.logs[0].shift.start <= now
    }


def _lost(
    raw_logs: Mapping[str, RawLog], options: Options, findings: Iterable[Finding]
) -> dict[str, Finding]:
    """The logs for which no hand-over is made, each with its first error: those that cannot be
    used, and versions of one log, because which of them is right is not known.
    """
    lost: dict[str, Finding] = {}
    for each in findings:
        if each.code == "two-versions":
            of_both = {each.place.file, *(place.file for place in each.related)}
            lost |= dict.fromkeys(of_both & raw_logs.keys(), each)
    for path, raw_log in raw_logs.items():
        log, found = check(raw_log, options)
        if log is None and not holds_mended_rows(raw_log):
            lost[path] = next(each for each in found if each.severity is Severity.ERROR)
    return lost
