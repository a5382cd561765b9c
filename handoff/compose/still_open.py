"""The words on open matters for the next shift's pages: `StillOpen` -> finished words.

Input: what is known of a log before it is written, and words. Output: boxes and warnings for the
pages, and comments for `blank.yaml`. They use the same words for a matter as the sheet, and add its
shift, which is an earlier one by then. Decides nothing.
"""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

from msgspec.structs import replace

from handoff.compose.asked import caution_words, titles
from handoff.compose.matters import HOLD_IS_OLD, TOLD_LENGTH, MatterWords, Moment
from handoff.compose.patient import gap_words
from handoff.compose.words import Words
from handoff.log.blank import Blank
from handoff.log.fields import Section, fields_of
from handoff.model.matters import Matter, MatterState
from handoff.model.measures import Hold
from handoff.model.pages import OpenLine, StillOpenBox, TellBoxes
from handoff.model.ward import Patient

MOST_TOLD = 2  # texts of one matter, the newest; the sheet has all
FOR_ANYTHING = ("all", "other")  # words of the log


class OpenWords:
    """The words on the open matters of one patient."""

    def __init__(self, blank: Blank, patient: Patient, words: Words) -> None:
        self.open, self._patient, self._words = blank.open_of(patient), patient, words
        # Without a time nothing is open, and `matter_words` is empty.
        as_of = blank.as_of or datetime.max.replace(tzinfo=UTC)
        self._moment = Moment(blank.unit.name, as_of, as_of, self.open.last_entry_at)
        matters = (replace(each, opened_now=False) for each in self.open.matters)
        self.matters = [MatterWords(each, words, self._moment) for each in matters]

    @property
    def unknown(self) -> str:
        """The times of the stay that the given logs do not cover; '' where none is missing."""
        since = self.open.known_since
        only_since = [self._words.say("matter.alone", since=since)] if since else []
        return " ".join([*gap_words(self.open.gaps, self._words), *only_since])

    @property
    def why_held(self) -> str:
        """Why no exercise may be done, and that staff must ask first; '' where it may."""
        hold, waiting = self.open.hold, self.open.waiting
        if hold:
            old = self._moment.as_of - hold.since > HOLD_IS_OLD
            return self._words.say("blank.open.hold", hold=hold, old=old)
        if any(each.holds_back for each in self.open.matters):
            return self._words.say("blank.open.resume")
        if not waiting:
            return ""
        named = [caution_words(each, "title", None, self._words) for each in waiting]
        last_at = max(at for each in waiting for at in each.times)
        return self._words.say("blank.open.waits", titles=named, at=last_at)

    @property
    def comments(self) -> tuple[str, ...]:
        """The comments for `blank.yaml`, one for each open matter or hold."""
        held = [self._words.say("blank.open.comment_held", why=self.why_held)]
        return (
            *(held if self.why_held else ()),
            *(self._comment(each) for each in self.matters),
            *filter(None, [self.unknown]),
        )

    def lines(self) -> tuple[OpenLine, ...]:
        """A line with its mark for each; the hold comes first."""
        held = [self._held()] if self.why_held else []
        return (*held, *(self._line(each) for each in self.matters))

    def lines_of_unit(self, who: str) -> tuple[OpenLine, ...]:
        """The lines on the unit's page, where the patient's row already names the hold."""
        held = [self._held(who)] if self.open.hold or self.open.waiting else []
        return (*held, *(self._line(each, who) for each in self.matters))

    @property
    def warning(self) -> str:
        """A warning in a few words, with the precautions; '' where there is none."""
        return warning(
            self.open.matters,
            self.open.hold,
            self._words,
            holds_back=self.open.holds_back,
            precautions=self._patient.precautions or "",
        )

    @property
    def box(self) -> StillOpenBox | None:
        """The box of the patient's page; None where nothing is open."""
        if not self.open.is_open:
            return None
        named, say = _titles_by_state(self.open.matters, self._words), self._words.say
        in_short = say(
            "blank.open.in_short",
            held=say("blank.open.held") if self.open.holds_back else "",
            untold=[*named[MatterState.OPEN], *named[MatterState.SETTLED]],
            told=named[MatterState.TOLD],
        )
        title = say("blank.open.title", as_of=self._moment.as_of)
        tell = self._tell_boxes() if self.matters else None
        return StillOpenBox(title, self.lines(), in_short, tell)

    def _held(self, who: str = "") -> OpenLine:
        mark = self._words.say("blank.open.held")
        return OpenLine(mark, outlined=False, title="", seen=self.why_held, who=who)

    def _line(self, matter_words: MatterWords, who: str = "") -> OpenLine:
        return OpenLine(
            mark=matter_words.mark or self._words.say("matter.not_told"),
            outlined=matter_words.matter.is_told,
            title=matter_words.title,
            seen=matter_words.seen,
            told=_told(matter_words),
            closes=self._closes(matter_words),
            who=who,
        )

    def _comment(self, matter_words: MatterWords) -> str:
        return self._words.say(
            "blank.open.comment",
            state=str(matter_words.matter.state),
            title=matter_words.title,
            seen=matter_words.seen,
            told=_told(matter_words),
            closes=self._closes(matter_words),
        )

    def _closes(self, matter_words: MatterWords) -> str:
        return self._words.say("blank.open.closes", steps=matter_words.closes)

    def _tell_boxes(self) -> TellBoxes:
        """The log's words for the open matters, in the log's order; then those for anything."""
        named = {word for each in self.matters for word in each.matter.about}
        (about,) = (each for each in fields_of(Section.ENTRY) if each.name == "about")
        chosen = [word for word in about.choices if word in named or word in FOR_ANYTHING]
        say = self._words.say
        shown = tuple(word.replace("_", " ") for word in chosen)
        tick_box = say("headings.tick_box")
        return TellBoxes(say("blank.open.told_about"), shown, say("blank.open.whom"), tick_box)


def warning(
    matters: Sequence[Matter],
    hold: Hold | None,
    words: Words,
    *,
    holds_back: bool,
    precautions: str = "",
) -> str:
    """What is open or held of a patient in a few words; '' where nothing is."""
    named = _titles_by_state(matters, words)
    return words.say(
        "blank.open.warning",
        hold=hold,
        holds_back=holds_back and hold is None,
        untold=named[MatterState.OPEN],
        told=named[MatterState.TOLD],
        settled=named[MatterState.SETTLED],
        precautions=precautions,
    )


def _titles_by_state(
    matters: Sequence[Matter], words: Words
) -> Mapping[MatterState, Sequence[str]]:
    return {
        state: titles([each for each in matters if each.state is state], None, words)
        for state in MatterState
    }


def _told(matter_words: MatterWords) -> str:
    return " ".join(
        filter(None, [*matter_words.told(TOLD_LENGTH)[:MOST_TOLD], matter_words.asked(TOLD_LENGTH)])
    )


def open_comments(blank: Blank, words: Words) -> Mapping[str, Sequence[str]]:
    """The comments of `blank.yaml` on what is open, by patient id."""
    return {each.id: OpenWords(blank, each, words).comments for each in blank.patients}


def unit_box(blank: Blank, words: Words) -> StillOpenBox | None:
    """The box of the unit's page: what is open of all patients, not told first, then in bed order;
    None for nothing.
    """
    lines: list[OpenLine] = []
    for patient in blank.charted:
        lines += OpenWords(blank, patient, words).lines_of_unit(_who(patient, words))
    lines.sort(key=lambda line: line.outlined)
    if not lines:
        return None
    return StillOpenBox(words.say("blank.open.title", as_of=blank.as_of), tuple(lines), "")


def _who(patient: Patient, words: Words) -> str:
    """The patient's name before a line."""
    return words.say(
        "blank.open.who",
        bed=words.bed(patient),
        name=patient.name or words.say("no_name"),
        id=patient.id,
    )
