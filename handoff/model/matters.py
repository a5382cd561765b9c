"""What is judged of one patient: verdicts on the shift, and matters that stay open after it.

Input: nothing. Output: frozen records. A matter is one danger of one stay. It opens when a rule at
level `escalate` is met. It closes when the provider was told, and the record or somebody licensed
says that it is over. It never says what is wrong with the patient.
"""

from datetime import datetime, timedelta
from enum import StrEnum
from fractions import Fraction
from functools import cached_property
from math import floor

from handoff.model.call_if import CallIf
from handoff.model.findings import Place
from handoff.model.frozen import Frozen
from handoff.model.verdicts import LaterSign, Level, Priority, Told, UnsureSign, Verdict
from handoff.model.ward import Entry, Patient, Shift

AIR = "air"  # as the oxygen on which a good SpO2 settles a low one

# A value or `none` settles a matter only so long after its last row: common practice.
SETTLES_AFTER = timedelta(minutes=60)
VOLUME_PERCENT_OVER = 85  # share of the volume before a fall, over which it is over


class MatterState(StrEnum):
    """Told or not, settled or not. `SETTLED` is settled and never told; `CLOSED` is both."""

    OPEN = "open"
    TOLD = "told"
    SETTLED = "settled"
    CLOSED = "closed"


class Eased(StrEnum):
    """Why a matter that was told and has not settled is only followed up."""

    ON_OXYGEN = "on_oxygen"  # within limits twice, on oxygen: not yet off it
    NOT_ASKED = "not_asked"  # a symptom a day old, the patient seen since, `none` never charted
    OLD_FALL = "old_fall"  # a fall of the volume, three days old


class WhyNot(StrEnum):
    """Why a later row that looked again does not settle a danger, or one part of it."""

    BY_PATIENT = "by_patient"  # charted by the patient
    BEYOND = "beyond"  # a vital sign still at a limit; a volume still low
    ANOTHER_SYMPTOM = "another_symptom"  # and not `none`
    ON_OXYGEN = "on_oxygen"  # and the low value on air, or without a record of oxygen
    MORE_OXYGEN = "more_oxygen"  # than the low value was seen on
    OXYGEN_UNKNOWN = "oxygen_unknown"  # whether on any, or how much, then or now
    TOO_SOON = "too_soon"  # all would do, but too little time has passed since the last row


class Look(Frozen):
    """One part of a danger, looked at again in a later row. `why_not` is None where the row shows
    that the part is over. `part` is the rule of a vital sign, `none` of symptoms, or `volume`.
    """

    row: Entry
    part: str
    why_not: WhyNot | None


class Matter(Frozen):
    """One danger of the stay, in its state at 'data as of'.

    `verdict` is the rule's own, of the shift with the worst value. `symptom` is given where the
    rule is followed symptom by symptom; `sign` is the vital sign's rule, where the rule is followed
    sign by sign. It opened in `shift` on `unit`. `rows` are all rows that
    met it, from `opened_at` to `last_at`. `told` are the told rows that cover its last row,
    earliest first. `about_unknown` may cover it, but do not say what they are about. `told_before`
    came before its last row. `looked` is what was measured or asked again since the last row,
    `looked_before` between earlier rows. `settled_before` says that it was over before it was met
    again. `level` is its effect on the priority; `NOTE` has none.
    """

    rule: str
    symptom: str | None
    verdict: Verdict
    shift: Shift
    unit: str
    opened_at: datetime
    last_at: datetime
    rows: tuple[Entry, ...]
    state: MatterState
    level: Level
    told: tuple[Told, ...] = ()
    about_unknown: tuple[Told, ...] = ()
    told_before: tuple[Told, ...] = ()
    looked: tuple[Look, ...] = ()
    looked_before: tuple[Look, ...] = ()
    settled_at: datetime | None = None
    settled_by: Told | None = None  # who said that it is over; None where the record shows it
    settled_before: tuple[Told, ...] = ()
    closed_at: datetime | None = None
    eased: Eased | None = None
    opened_now: bool = True  # in the shift that is handed over
    closed_now: bool = False  # since the hand-over before
    vitals: tuple[str, ...] = ()  # the vital signs that have to be measured again to settle it
    symptoms: tuple[str, ...] = ()  # the symptoms that have to be asked about again to settle it
    settled_rows: tuple[Place, ...] = ()  # the `settled` rows that named it while it was open
    unsettled: tuple[str, ...] = ()  # the parts that no row shows to be over yet
    # With which a good SpO2 settles it: `AIR`, so much or less, '' where the low one had no record.
    wanted_oxygen: str = ""
    fell_from_ml: float | None = None  # the volume before a fall, while no good reading settled it
    sign: str | None = None
    about: tuple[str, ...] = ()  # the words by which a `told` row names it, besides `all`

    @property
    def name(self) -> str:
        """The rule, or rule and symptom or sign: no other matter of the stay has the same name."""
        part = self.symptom or self.sign
        return f"{self.rule}:{part}" if part else self.rule

    @property
    def holds_back(self) -> bool:
        """True while no page asks for the exercise."""
        return self.state in {MatterState.OPEN, MatterState.TOLD}

    @property
    def last_look(self) -> Look | None:
        """The last time since its last row that staff measured or asked the same. Where the record
        settled it, the one that did.
        """
        by_staff = [each for each in self.looked if each.why_not is not WhyNot.BY_PATIENT]
        settled = [each for each in by_staff if each.row.at == self.settled_at and not each.why_not]
        return next(reversed(settled or by_staff), None)

    @property
    def seen_over(self) -> bool:
        """True where the last look would settle it, if only it came late enough."""
        look = self.last_look
        return look is not None and look.why_not in {None, WhyNot.TOO_SOON}

    @property
    def settles_from(self) -> datetime:
        """The earliest time at which a row that looks again may settle it."""
        return self.last_at if self.is_fall else self.last_at + SETTLES_AFTER

    @property
    def is_fall(self) -> bool:
        """Whether only a good reading of the volume settles it."""
        return self.fell_from_ml is not None

    @property
    def over_ml(self) -> int | None:
        """The volume, in whole mL, over which a good reading settles a fall; None where none is
        wanted.
        """
        if self.fell_from_ml is None:
            return None
        return floor(VOLUME_PERCENT_OVER * Fraction(self.fell_from_ml) / 100)

    @property
    def is_open(self) -> bool:
        """True where it is neither closed nor only counted any more."""
        return self.state is not MatterState.CLOSED and self.level is not Level.NOTE

    @property
    def is_counted(self) -> bool:
        """True where it is only counted: settled long ago, and never told."""
        return self.state is MatterState.SETTLED and self.level is Level.NOTE

    @property
    def is_told(self) -> bool:
        """True where the provider was told of its last row."""
        return self.state in {MatterState.TOLD, MatterState.CLOSED}


FALLS = frozenset({"volume-drop", "volume-drop-with-signs"})  # the rules on a fall, by name


class Verdicts(Frozen, dict=True):  # what every page asks for is found once
    """All verdicts on one patient, in the rules' order; the matters of the stay, in printing order;
    the priority; and when to call from now on. `unread` are the signs that cannot be read, beside
    graver ones.
    """

    patient: Patient
    priority: Priority
    all: tuple[Verdict, ...]
    call_if: CallIf
    later_signs: tuple[LaterSign, ...] = ()
    unread: tuple[UnsureSign, ...] = ()
    matters: tuple[Matter, ...] = ()

    @cached_property
    def cautions(self) -> tuple[Verdict, ...]:
        """The verdicts met and not replaced, most urgent first, then in the rules' order. While a
        matter of a rule is open, it says all that the same rule says at a milder level.
        """
        levels = list(Level)
        followed = {each.rule for each in self.open_matters}
        met = [
            verdict
            for verdict in self.all
            if verdict.met and (verdict.level is Level.ESCALATE or verdict.rule not in followed)
        ]
        return tuple(sorted(met, key=lambda verdict: levels.index(verdict.level)))

    @cached_property
    def open_matters(self) -> tuple[Matter, ...]:
        """The matters that are not closed and not only counted."""
        return tuple(each for each in self.matters if each.is_open)

    @property
    def fell(self) -> bool:
        """Whether a fall of the volume is met, beyond one low reading, or still open."""
        met = {each.rule for each in self.cautions if each.level is not Level.NOTE}
        return not FALLS.isdisjoint(met | {each.rule for each in self.open_matters})

    @property
    def escalations(self) -> tuple[Matter, ...]:
        """Those of which the provider is to be told now, or has to know now."""
        return tuple(each for each in self.matters if each.level is Level.ESCALATE)

    @property
    def waiting(self) -> tuple[Verdict, ...]:
        """The cautions to follow up that have to settle before the exercise goes on."""
        return tuple(each for each in self.cautions if each.holds_back)

    @property
    def holds_back(self) -> bool:
        """True while a matter is open or told, or something has to settle first: then no page asks
        for the exercise.
        """
        return bool(self.waiting) or any(each.holds_back for each in self.matters)
