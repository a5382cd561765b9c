"""The words of the matters of a stay and of a hold.

Input: a `Matter` or a `Hold`, and words. Output: finished words. The sheet, the summary and the
pages of the next shift use the same words, each as many as it has room for. Decides nothing.
"""

from datetime import datetime, timedelta

from handoff.compose.asked import caution_words
from handoff.compose.facts import Facts
from handoff.compose.words import Words
from handoff.model.frozen import Frozen
from handoff.model.matters import Matter
from handoff.model.measures import Hold
from handoff.model.verdicts import Told

TOLD_LENGTH = 160  # characters of a told text that fit on a sheet
WHOLE = 10_000
HOLD_IS_OLD = timedelta(hours=24)  # age at which a hold is asked about again: common practice


class Moment(Frozen):
    """The unit and time of the words: a time before `now_from` is printed with its day.

    `last_entry_at` is that of the patient's last entry, for words without the facts of a page.
    """

    unit: str
    as_of: datetime
    now_from: datetime
    last_entry_at: datetime | None = None


class MatterWords:
    """The words of one matter; `facts` are those of the patient's page, or none. Without `quotes`,
    for a sheet that may lie open, they hold nothing that somebody wrote in the log."""

    def __init__(
        self,
        matter: Matter,
        words: Words,
        moment: Moment,
        facts: Facts | None = None,
        *,
        quotes: bool = True,
    ) -> None:
        self.matter, self._words, self._quotes = matter, words, quotes
        last_entry_at = facts.last_entry_at if facts else moment.last_entry_at
        self._facts, self._own = facts, {**_facts(matter, moment), "quotes": quotes}
        self._own["last_entry_at"] = last_entry_at
        self._own["from_on"] = self._say("from_on")

    @property
    def title(self) -> str:
        """A few words: 'Low oxygen'."""
        return self._of_rule("title")

    @property
    def seen(self) -> str:
        """What was seen and in which shift, when it was seen again, and what was seen since. Of a
        value that was measured again the age is not said: that of the later one counts.
        """
        own = {"last_entry_at": None} if self.matter.last_look else {}
        seen = self._of_rule("seen", **own)
        parts = (self._say("from"), seen, self._say("once_more"), self.since)
        return " ".join(filter(None, parts))

    @property
    def brief(self) -> str:
        """What was seen and when, in a few words."""
        return self._say("brief", brief=self._of_rule("brief"))

    @property
    def since(self) -> str:
        """How it settled; or what was looked at again; or that nothing was."""
        since = self._of_rule("since")
        return self._say("settled", since=since) if self.matter.settled_at else since

    @property
    def mark(self) -> str:
        """'TOLD' where the provider was told of the last row; '' where not."""
        return self._say("mark") if self.matter.is_told else ""

    def told(self, longest: int = TOLD_LENGTH) -> tuple[str, ...]:
        """The told texts about it, word for word, the newest first; empty without one."""
        return tuple(self._told(_name(each), each, longest) for each in reversed(self.matter.told))

    def told_last(self) -> tuple[str, ...]:
        """The last told text, as much as a sheet has room for, and the times of earlier ones."""
        last = [self._told(_name(each), each, TOLD_LENGTH) for each in self.matter.told[-1:]]
        before = [each.at for each in reversed(self.matter.told[:-1])]
        return (*last, *([self._say("told_also", before=before)] if before else []))

    def asked(self, longest: int = TOLD_LENGTH) -> str:
        """The told texts that may be about it, and those before its last row."""
        if self.matter.told:
            return ""
        unknown = [self._told("about_unknown", each, longest) for each in self.matter.about_unknown]
        before = [self._told("told_before", each, longest) for each in self.matter.told_before[-1:]]
        return " ".join([*unknown, *before])

    @property
    def closes(self) -> str:
        """What would close it, as a line to act on; '' where it is closed."""
        tell = [] if self.matter.is_told else [self._say("tell")]
        again = [] if self.matter.settled_at else [self._of_rule("again")]
        return self._say("closes", steps=[*tell, *again])

    def _of_rule(self, part: str, **more: object) -> str:
        own = {**self._own, **more}
        return caution_words(self.matter.verdict, part, self._facts, self._words, **own)

    def _told(self, name: str, told: Told, longest: int) -> str:
        note = (told.note or "") if self._quotes else ""
        return self._say(name, told_at=told.at, note=note, longest=longest)

    def _say(self, name: str, **more: object) -> str:
        return self._words.say(f"matter.{name}", self._facts, **{**self._own, **more})


def _name(told: Told) -> str:
    """The template name for a told row: another where the row does not say what it is about."""
    return "told" if told.named else "told_unnamed"


def hold_words(hold: Hold, words: Words, moment: Moment, *, quotes: bool = True) -> str:
    """That no exercise may be done, since when and, with `quotes`, by whose decision."""
    old = moment.as_of - hold.since > HOLD_IS_OLD
    return words.say("matter.hold", hold=hold, old=old, now_from=moment.now_from, quotes=quotes)


def _facts(matter: Matter, moment: Moment) -> dict[str, object]:
    """The facts for the words of a matter and of its rule."""
    verdict, from_at = matter.verdict, matter.settles_from
    later, own = [each.row for each in matter.looked], set(matter.symptoms)
    # Within the shift that it opened in, a clock time is enough.
    in_a_later_shift = verdict.at is not None and verdict.at >= matter.shift.end
    return {
        "matter": matter,
        "now_from": moment.now_from,
        "elsewhere": "" if matter.unit == moment.unit else matter.unit,
        "worst_at": verdict.at if in_a_later_shift else None,
        "ranked": not getattr(verdict.found, "symptoms", ()),
        "once_more": matter.last_at > max(verdict.times, default=matter.last_at),
        "looked": matter.last_look.row if matter.last_look else None,
        "seen_again": next((row for row in reversed(later) if row.signs.symptoms & own), None),
        "eased": str(matter.eased) if matter.eased else "",
        "from_at": from_at,
        "later": from_at > moment.as_of,
        "vitals": matter.vitals,
        "asked_symptoms": matter.symptoms,
        "wanted_oxygen": matter.wanted_oxygen,
        "over_ml": matter.over_ml,
    }
