"""The open matters of a patient and a hold, for pages that offer steps.

Input: a `Ward` and a patient. Output: matters in the words of the sheet, each with a key of this
run. Decides nothing: `judge` gives the matters and their states.
"""

from collections.abc import Iterator

from handoff.compose.asked import caution_words
from handoff.compose.matters import MatterWords, hold_words
from handoff.compose.patient import moment_of
from handoff.desk import current
from handoff.desk.ward import Ward
from handoff.log.fields import ABOUT
from handoff.model.frozen import Frozen
from handoff.model.matters import Matter
from handoff.model.ward import Patient

# The fields that measure a vital sign again, by its name in a matter. Whether a low SpO2 is over
# depends on the oxygen: the form asks for both.
MEASURED_BY = {
    "SpO2": ("spo2", "on_oxygen", "oxygen"),
    "breathing rate": ("resp_rate",),
    "pulse": ("pulse",),
    "temperature": ("temp_c",),
    "pain": ("pain",),
}


class OpenMatter(Frozen):
    """One matter, in words; `mark` says whether somebody was told."""

    key: str
    words: MatterWords
    mark: str

    @property
    def matter(self) -> Matter:
        """The matter, as judged."""
        return self.words.matter

    @property
    def is_settled(self) -> bool:
        """True where it is over, but the provider still has to be told."""
        return self.matter.settled_at is not None

    @property
    def again(self) -> tuple[str, ...]:
        """The fields of an entry that looks again; empty where nothing more is needed. Also empty
        for a fall: only the exercise itself can show it to be over.
        """
        if self.is_settled:
            return ()
        measured = [name for vital in self.matter.vitals for name in MEASURED_BY[vital]]
        return (*measured, "symptoms") if self.matter.symptoms else tuple(measured)


class Box(Frozen):
    """One box to tick, for what a row may be about: words of the log, and the matters they name.

    Matters with the same words share a box: a row cannot name one of them alone.
    """

    about: str
    matters: tuple[OpenMatter, ...]


class StillOpen(Frozen):
    """Everything open for one patient; `hold` are the words of a hold in force, '' without one.
    `waiting` are the titles of what has to settle before the exercise goes on. In `comfort_care`
    nobody is coached.
    """

    matters: tuple[OpenMatter, ...] = ()
    hold: str = ""
    waiting: tuple[str, ...] = ()
    comfort_care: bool = False
    asks_nobody: bool = False  # no list asks for the exercise: held back, or comfort care

    @property
    def untold(self) -> bool:
        """True where somebody has to be told of something."""
        return any(not each.matter.is_told for each in self.matters)

    @property
    def unsettled(self) -> tuple[OpenMatter, ...]:
        """The matters that no row shows or says to be over."""
        return tuple(each for each in self.matters if not each.is_settled)

    @property
    def holds_back(self) -> bool:
        """True while no page asks for the exercise."""
        held = bool(self.hold or self.waiting)
        return held or any(each.matter.holds_back for each in self.matters)

    @property
    def reasons(self) -> tuple[str, ...]:
        """The titles of what holds the exercise back, besides a hold."""
        open_ones = (each.words.title for each in self.matters if each.matter.holds_back)
        return tuple(dict.fromkeys((*open_ones, *self.waiting)))

    def find(self, key: str) -> OpenMatter | None:
        """The matter with this key."""
        return next((each for each in self.matters if each.key == key), None)


def still_open(seen: Ward, number: int, patient: Patient) -> StillOpen:
    """Everything open for a patient of the unit of this number; nothing for one who is
    not judged.
    """
    results, words = seen.results[number], seen.words[number]
    handover = results.handover
    if patient.id not in results.verdicts:
        return StillOpen()
    measures, verdicts = results.measures[patient.id], results.verdicts[patient.id]
    facts = results.facts[patient.id]
    moment = moment_of(handover)
    in_words = [MatterWords(each, words, moment, facts) for each in verdicts.open_matters]
    matters = tuple(
        OpenMatter(
            current.desk().key("matter", handover.unit.name, patient.id, each.matter.name),
            each,
            each.mark or words.say("matter.not_told"),
        )
        for each in in_words
    )
    hold = hold_words(measures.hold, words, moment) if measures.hold else ""
    waiting = [caution_words(each, "title", facts, words) for each in verdicts.waiting]
    comfort_care = bool(measures.order.comfort_care)
    asks_nobody = bool(measures.hold) or verdicts.holds_back or comfort_care
    return StillOpen(matters, hold, tuple(waiting), comfort_care, asks_nobody)


def boxes(matters: tuple[OpenMatter, ...]) -> Iterator[Box]:
    """The boxes for the matters, in printing order."""
    by_words: dict[str, list[OpenMatter]] = {}
    for each in matters:
        by_words.setdefault(";".join(each.matter.about), []).append(each)
    for about, named in by_words.items():
        yield Box(about, tuple(named))


def words_in(ticked: list[str]) -> str:
    """The words of all ticked boxes, each once, as a cell has them."""
    named = {word for each in ticked for word in each.split(";")}
    known = [word for word in ABOUT if word in named]
    return ";".join([*known, *sorted(named - {*known, ""})])
