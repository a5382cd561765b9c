"""What gives way on a sheet that holds too much, in its order, read back from printed pages."""

from collections.abc import Callable, Mapping
from functools import cache

import pytest
from msgspec.structs import replace

from handoff.draw.paper.cautions import Cautions
from handoff.draw.paper.detail_levels import OF_CAUTIONS, STEPS, Detail, detail_levels
from handoff.model.pages import Note, Paragraph, PatientPage, Rank, Sentence
from tests.support.builders import entry, handover
from tests.support.how_many import few
from tests.support.random_pages import DANGERS, gravest
from tests.support.sheets import TYPESETTER, patient_page, patient_pdf, read_pdf

NOTE = "slept well until four, then asked for the window to be opened and for more to drink " * 2
LONG = "One sentence follows on the other until there are as many as three lines of them. " * 3
SAID = "by phone of what was seen, will come when the round is over " * 3
NEWEST = f'Told 09:20: "{SAID[:159]}…".'
ASIDE = (
    "Row day.yaml:14 set aside, reads faint, chest pain and a thing that nobody can read: check."
)
TO_CHECK = " ".join([ASIDE] * 3)
TICKS = (
    "Ask before any exercise",
    "Measure SpO2 again",
    "Ask about breathing",
    "Show it back",
    "Ask what stands in the way",
)


@cache
def page(more: int) -> PatientPage:
    """A sheet with notes, what was told, five cautions, and so much more seen of an escalation.

    Of it one thing after the other gives way, at last that at which it stands.
    """
    rows = (entry(f"{hour:02}:30", hold_s=1, pain=8, spo2=70) for hour in range(8, 19))
    given = handover(DANGERS, *rows)
    plain = patient_page(given)
    first, second = [each for each in plain.cautions if each.stays][:2]
    words = " On it goes." * more
    told = replace(
        first,
        seen=f"SpO2 70 % at 08:00. Not measured since.{words}",
        action="",
        brief=f"{first.brief}{words}",
        told=(NEWEST, "Also told 08:20."),
        mark="TOLD",
    )
    mild = [each for each in gravest().cautions if not each.stays]
    mild = sorted(mild, key=lambda each: len(each.seen + each.action))[:3]
    return replace(
        plain,
        notes=(Note("18:00", NOTE), Note("10:00", "slept")),
        cautions=(told, replace(second, action=""), *mild),
        paragraphs=tuple(
            replace(each, sentences=(Sentence(words),))
            for each, words in zip(
                plain.paragraphs, (LONG, "Short.", "Short.", "Short."), strict=True
            )
        ),
        numbers=tuple(
            each
            for each in plain.numbers
            if each.label not in {"24 h before", "Stay best", "Breath hold", "Pain", "Usual"}
        ),
        next_shift=TICKS,
        closing=2,
        to_check=TO_CHECK,
        not_judged=None,
        set_aside="",
    )


@cache
def text(more: int) -> str:
    (printed,) = read_pdf(patient_pdf(page(more), "a4")).pages
    return printed


def in_full(printed: str) -> int:
    return sum(f"{each.title}. {each.seen}" in printed for each in page(0).cautions)


# What has given way, by what is printed.
GONE: Mapping[str, Callable[[str], bool]] = {
    "minor numbers": lambda printed: "Readings" not in printed,
    "the end of a note": lambda printed: NOTE.strip() not in printed,
    "usual numbers": lambda printed: "Lowest SpO2" not in printed,
    "the end of what is to be checked": lambda printed: TO_CHECK.strip() not in printed,
    "the fifth tick": lambda printed: TICKS[4] not in printed,
    "the end of a paragraph": lambda printed: LONG.strip() not in printed,
    "the fifth caution": lambda printed: in_full(printed) < 5,
    "every mild caution": lambda printed: in_full(printed) < 3,
    "a line to write on for each": lambda printed: "Not yet recorded as told. Told" not in printed,
    "what was seen, in full": lambda printed: "Not measured since." not in printed,
    "all but a line of a paragraph": lambda printed: LONG[:150] not in printed,
}
# What gives way after these may leave free space, and notes take it first.
COME_BACK = ("the end of a note", "minor numbers", "usual numbers")
LOADS = range(0, 390, 5)


def first_gone(name: str) -> int:
    """How much more has to be said before it gives way; then it is gone for good, but for notes
    and numbers."""
    loads = [more for more in LOADS if GONE[name](text(more))]
    assert loads, name
    assert name in COME_BACK or loads == [more for more in LOADS if more >= loads[0]]
    return loads[0]


def test_everything_is_printed_where_there_is_room() -> None:
    assert [name for name, gone in GONE.items() if gone(text(0))] == []


@pytest.mark.long
def test_things_give_way_one_after_the_other_and_for_good() -> None:
    first = {name: first_gone(name) for name in GONE}
    assert first["minor numbers"] < first["usual numbers"]
    order = [more for name, more in first.items() if name not in COME_BACK]
    assert order == sorted(order)
    assert len(set(order)) >= len(order) - 1


def test_what_never_gives_way_is_printed_however_much_there_is() -> None:
    """Of what is open the title, the level, told or not, and the newest answer word for word; what
    was seen in full or, where even that is too much, in a few words."""
    for more in LOADS[:: 3 if few(1) == 1 else 1]:
        always = [page(more).identity.name, page(more).identity.id, *page(more).standing]
        always += [page(more).chart_title, "goal 2,000 mL", page(more).strip_title]
        always += ["Breaths 140 done; 110 of 120 due credited", "Adherence 92 %"]
        always += ["Handed over by", "Taken over by", *TICKS[:2]]
        always += [page(more).call_if.value, NOTE[:80]]  # the newest note is the last to go
        always += ["ESCALATE", "TOLD", "Low oxygen.", "Breathing rate", NEWEST]
        assert [each for each in always if each not in text(more)] == []
        first, second = [each for each in page(more).cautions if each.stays]
        assert first.seen in text(more) or first.brief in text(more)
        assert second.seen in text(more) or second.brief in text(more)
        untold = text(more).lower().count("not yet recorded as told")
        assert untold + text(more).count("NOT TOLD") == 1


def test_signs_come_back_into_free_room_beside_the_lines_of_the_next_shift() -> None:
    """Numbers gave way though the page got no shorter by it, and pain and SpO2 were on no line."""
    given = replace(page(150), notes=())
    (printed,) = read_pdf(patient_pdf(given, "a4")).pages
    assert "Lowest SpO2" in printed
    assert "Trend" not in printed


def test_cautions_depend_on_the_fields_that_they_are_kept_by() -> None:
    given = page(0)
    for level in detail_levels():
        kept = Detail(**{part: getattr(level, part) for part in OF_CAUTIONS})
        whole, known = (Cautions(TYPESETTER, given, 500, each).block() for each in (level, kept))
        assert whole.height == known.height, level


def test_each_level_prints_no_more_than_the_one_before() -> None:
    """By the names of its fields: identity, chart and foot have none. In few words is less."""
    levels = list(detail_levels())
    assert len(levels) == len(STEPS) + 1
    assert levels[0] == Detail()
    for field in Detail.__struct_fields__:
        values = [getattr(level, field) for level in levels]
        kept = [100 if value is None else float(value) for value in values]
        assert kept == sorted(kept, reverse=field != "brief"), field


def test_a_paragraph_gives_way_by_whole_sentences_the_least_important_first() -> None:
    ranks = {"Open": Rank.ALWAYS, "Now": Rank.USUAL, "Since": Rank.MINOR, "Known": Rank.ALWAYS}
    said = [Sentence(f"{name}{' said' * 25}.", rank) for name, rank in ranks.items()]
    left = []
    for more in LOADS[::12]:
        _, *others = page(more).paragraphs
        paragraphs = (Paragraph("Situation", tuple(said)), *others)
        (printed,) = read_pdf(patient_pdf(replace(page(more), paragraphs=paragraphs))).pages
        left.append(" ".join(name for name in ranks if f"{name} said" in printed))
        assert printed.count(" said.") == len(left[-1].split())
    assert list(dict.fromkeys(left)) == ["Open Now Since Known", "Open Known", ""]
