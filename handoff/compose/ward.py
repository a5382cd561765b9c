"""The patients of a unit in the words of the pages that show all of them.

Input: the results of the stages, words. Output: a `Ward`, and the alerts of a patient. Every such
page says in the same way who a patient is.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from handoff.compose.cautions import sheet_cautions
from handoff.compose.matters import hold_words
from handoff.compose.patient import moment_of, priority_mark, two_ids_alert
from handoff.compose.results import Results
from handoff.compose.words import Words, initials_of
from handoff.log.names import ELLIPSIS, bed_key, name_alerts
from handoff.model.measures import Hold
from handoff.model.verdicts import Priority
from handoff.model.ward import Handover, Patient

LAST_OF_ID = 4


class Ward:
    """What every page of the whole unit is composed from: results, words, patients by priority.

    With `initials` a patient has no full name and no full id, and nothing that somebody wrote.
    """

    def __init__(self, results: Results, words: Words, *, initials: bool) -> None:
        self.handover, self.measures, self.verdicts = (
            results.handover,
            results.measures,
            results.verdicts,
        )
        self.limits, self.since, self.facts = results.limits, results.since, results.facts
        self.gone, self.moment = results.gone, moment_of(self.handover)
        self.words, self.initials = words, initials
        order = list(Priority)
        self.judged = sorted(
            (patient for patient in self.handover.patients if patient.id in self.measures),
            key=lambda patient: (
                order.index(self.verdicts[patient.id].priority),
                bool(priority_mark(self.verdicts[patient.id], words)),
            ),
        )
        self.name_alerts = (
            _with_same_initials(self.handover) if initials else self.handover.name_alerts
        )

    def say(self, name: str, patient: Patient, /, **more: object) -> str:
        """The named words, filled in with a patient's facts."""
        return self.words.say(name, self.facts.get(patient.id), **more)

    def who(self, patient: Patient) -> str:
        """Bed, name and id on one line, or their short forms."""
        return self.words.say("summary.who", **self.named(patient))

    def named(self, patient: Patient) -> Mapping[str, str]:
        """Bed, name and id for a template, or their short forms."""
        return {"bed": self.bed(patient), "name": self.name(patient), "id": self.id(patient)}

    def bed(self, patient: Patient) -> str:
        """The bed; or that it is disputed, or not recorded."""
        return self.words.bed(patient)

    def name(self, patient: Patient) -> str:
        """The name or its initials; or that it is not recorded."""
        name = initials_of(patient.name) if self.initials else patient.name
        return name or self.words.say("no_name")

    def id(self, patient: Patient) -> str:
        """The id or its last digits."""
        return f"…{patient.id[-LAST_OF_ID:]}" if self.initials else patient.id

    def identifiers(self, patient: Patient) -> str:
        """Id and birth date on one line; with `initials` the last digits of the id alone."""
        born = None if self.initials else patient.born
        return self.words.say("ward.identifiers", id=self.id(patient), born=born)

    def hold_words(self, hold: Hold) -> str:
        """That no exercise may be done, and since when."""
        return hold_words(hold, self.words, self.moment, quotes=not self.initials)

    def titles(self, patient: Patient) -> list[str]:
        """The titles of a patient's cautions, most urgent first, as on the sheet."""
        verdicts, facts = self.verdicts[patient.id], self.facts[patient.id]
        cautions = sheet_cautions(verdicts, self.moment, facts, self.words)
        return [caution.title for caution in cautions]


def _with_same_initials(handover: Handover) -> Mapping[str, tuple[str, ...]]:
    """The beds of patients with a similar name, and of those with the same initials: on a page of
    initials nothing else tells them apart. Two ids of one person have an alert of their own.
    """
    same: defaultdict[str, list[Patient]] = defaultdict(list)
    for patient in handover.patients:
        same[initials_of(patient.name)].append(patient)
    groups: dict[str, Sequence[Patient]] = {
        each.id: group for initials, group in same.items() if initials for each in group
    }
    for key, of_one in handover.other_ids.items():
        own = {each.patient.id for each in of_one}
        groups[key] = [each for each in groups.get(key, ()) if each.id not in own]
    of_initials = name_alerts(handover.patients, groups)
    beds = {
        key: {*handover.name_alerts.get(key, ()), *of_initials.get(key, ())}
        for key in handover.name_alerts.keys() | of_initials.keys()
    }
    return {
        key: tuple(sorted(of_one, key=lambda bed: (bed == ELLIPSIS, bed_key(bed))))
        for key, of_one in beds.items()
    }


def row_alerts(ward: Ward, patient: Patient) -> Iterator[str]:
    """How the patient is judged, now and by a later order, precautions, and what could cause a
    mix-up: two ids, a similar name, an earlier bed.
    """
    facts = ward.facts.get(patient.id)
    if facts:
        yield ward.say("judged_briefly", patient)
        yield ward.words.later_orders(patient, facts.judged_otherwise)
    if patient.precautions:
        yield ward.words.say("precautions", patient=patient)
    yield from two_ids_alert(ward.handover, patient, ward.words, "summary.two_ids")
    beds = ward.name_alerts.get(patient.id)
    if beds:
        yield ward.words.say("summary.name_alert", beds=beds)
    elsewhere = ward.handover.elsewhere.get(patient.id)
    yield ward.words.say("moved", patient=patient, elsewhere=elsewhere)
