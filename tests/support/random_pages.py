"""Random patient pages: what any log may put on a sheet, from a number.

A page is composed from a real hand-over of 0 to 600 entries; names, precautions, notes and what was
told are then replaced by texts in many scripts, as long as a log may have them, up to 12 matters
and 40 cautions drawn, and numbers emptied.
"""

from collections.abc import Iterator
from functools import cache
from random import Random
from typing import Any

from msgspec.structs import replace

from handoff.model.pages import Caution, Note, Paragraph, PatientPage, Rank, Sentence
from handoff.model.verdicts import Level
from handoff.model.ward import Handover
from tests.support.builders import entry, handover, order, patient
from tests.support.sheets import patient_page

ALPHABETS = (
    "abcdefghijklmnopqrstuvwxyz ABCDEFGHIJKLMNOPQRSTUVWXYZ   '-,.;:()0123456789",
    "àâäéèêëïîôöùûüÿçñßøåæœłśżźćńęąőűčšžřýíáóú     ",
    "αβγδεζηθικλμνξοπρστυφχψωΑΒΓΔΕΖΗΘ άέήίόύώ   ",
    "абвгдежзийклмнопрстуфхцчшщъыьэюя АБВГДЕЖ ЇЄҐ  ",
    "ạảãầấậẩẫăằắặẳẵẹẻẽềếệểễịỉĩọỏõồốộổỗơờớợởỡụủũưừứựửữ   ",
    "אבגדהוזחטיכלמנסעפצקרשת  ",
    "ابتثجحخدذرزسشصضطظعغفقكلمنهوي  ",
    "ẹ́ọ̀ṣe\u0301\u0300a\u0331 ",
    "\x00\x07\t\n\r\u200b\u202e\ufeff<>&\"'{}[]%$#\\/",
    "王小明字 अआइ ꙮ🙂 ",
)
COUNTS = (0, 1, 2, 5, 12, 60, 600)
MOST_MATTERS = 12
LEVELS = {Level.ESCALATE: "ESCALATE", Level.FOLLOW_UP: "FOLLOW UP"}
SINCE = "6 Mar 19:16 to 7 Mar 03:50"
OF_WHAT, COVERS = "Told 6 Mar 19:28, about what is not recorded:", "Does it cover this?"
GAP = "No log of 7 Apr 07:00 to 7 Apr 19:00: what happened then is not known here."
PRECAUTIONS = "PRECAUTIONS: flat, spine not cleared; collapsed lung on the left. " * 8
SIGNS = "low oxygen, breathing rate, pulse, low temperature, faint, chest pain, drowsy, confused"
CLOSING = (
    "No exercise until the provider has answered",
    "Going home 7 Mar, ask the provider first; the page to take home is not printed",
    "The order ended 6 Mar 14:00, ask before the exercise goes on",
    f"Tell the provider and record it: {SIGNS}",
    "Measure now, then again from 7 Mar 04:50 on: SpO2, breathing rate, pulse and temperature",
    "Ask now, then again from 7 Mar 04:50 on: faint, dizzy, wheeze? Chart what is there, or none",
    "Once the exercise may go on, repeat the volume in good form (over when more than 1,105 mL)",
)


def random_text(random: Random, longest: int) -> str:
    """Words of one script or several, or one long word; often short, seldom as long as allowed."""
    letters = "".join(random.sample(ALPHABETS, random.choice((1, 1, 1, 2, 3))))
    if random.random() < 0.1:
        letters = letters.replace(" ", "")
    length = random.choice((0, 1, 8, 30, longest // 2, longest))
    return "".join(random.choices(letters, k=min(length, longest)))


def random_page(number: int) -> PatientPage:
    """The page of this number, always the same."""
    random = Random(number)
    page = random.choice(composed())
    return replace(
        page,
        identity=replace(
            page.identity,
            name=random_text(random, 120),
            bed=random.choice(("7", "12A", random_text(random, 20))),
            alert=random.choice((None, page.identity.alert, "NAME ALERT: " + "bed 12A, " * 30)),
            moved=random.choice(("", "", "moved from 3A by 9:40", "moved from " + "bay 4, " * 20)),
            precautions=random.choice(("", "", PRECAUTIONS[:500], random_text(random, 500))),
            unknown=random.choice(("", "", GAP, f"{GAP} " * 5)),
        ),
        unit=random.choice((page.unit, random_text(random, 200))),
        paragraphs=tuple(
            replace(each, sentences=random.choice([*_sentences(random, each)]))
            for each in page.paragraphs
        ),
        cautions=_cautions(random, page),
        notes=tuple(
            Note("08:00", random_text(random, 2000)) for _ in range(random.choice((0, 0, 3, 40)))
        ),
        numbers=page.numbers if random.random() < 0.8 else (),
        counted=random.choice(("", "Never recorded as told, long settled: 12.")),
        **_next_shift(random, page),
        set_aside=random.choice(("", random_text(random, 2000))),
        to_check=random.choice(("", random_text(random, 2000))),
        not_judged=random.choice((None, page.not_judged, random_text(random, 500))),
    )


def _sentences(random: Random, paragraph: Paragraph) -> Iterator[tuple[Sentence, ...]]:
    """Those of the page; any text as one; and up to eight of any rank, numbered, in plain words:
    one of them is always said, as in the program's own paragraphs.
    """
    yield paragraph.sentences
    yield (Sentence(random_text(random, 1200)),)
    lengths = [random.choice((2, 10, 30)) for _ in range(random.randint(1, 8))]
    numbered = [
        Sentence(
            f"{paragraph.label} {number}: {' '.join(['said'] * length)}.",
            random.choice(tuple(Rank)),
        )
        for number, length in enumerate(lengths)
    ]
    always = [each for each in numbered if each.rank is Rank.ALWAYS]
    yield tuple(each for each in numbered if each not in always[1:])


def _next_shift(random: Random, page: PatientPage) -> dict[str, Any]:
    """What closes what is open, up to as many lines as there can be, before the usual lines."""
    count = random.choice((0, page.closing, len(CLOSING)))
    closing = random.sample(CLOSING, min(count, len(CLOSING)))
    usual = page.next_shift[page.closing :][: max(5 - len(closing), 0)]
    return {"next_shift": (*closing, *usual), "closing": len(closing)}


def _cautions(random: Random, page: PatientPage) -> tuple[Caution, ...]:
    """Up to twelve matters, told or not, one of them perhaps twice; any number of others, up to 40
    in all."""
    grave = [each for each in gravest().cautions if each.stays]
    mild = [each for each in gravest().cautions if not each.stays]
    if random.random() < 0.3:
        return page.cautions
    count = random.choice((0, 1, 2, 4, 8, MOST_MATTERS))
    drawn = random.sample(grave * 2, count)
    others = random.choices(mild, k=random.choice((0, 1, 4, 12, 40 - count)))
    return (*(_matter(random, each) for each in drawn), *(_told(random, each) for each in others))


def _matter(random: Random, caution: Caution) -> Caution:
    """As told, or not, as a sheet can have it: each answer up to 160 characters of the log."""
    level = random.choice((Level.ESCALATE, Level.ESCALATE, Level.FOLLOW_UP))
    brief = random.choice((caution.brief, f"On oxygen ({random_text(random, 40)}), {SINCE}."))
    caution = replace(caution, level=level, level_words=LEVELS[level], brief=brief)
    if random.random() < 0.5:
        answers = random.choice((1, 1, 2, 5))
        told = tuple(f'Told 6 Mar 19:28: "{random_text(random, 160)}".' for _ in range(answers))
        return replace(caution, told=told, mark="TOLD", asked="")
    unknown = random.choice((0, 0, 1, 2))
    asked = [f'{OF_WHAT} "{random_text(random, 160)}". {COVERS}' for _ in range(unknown)]
    before = random.choice(((), ("Told 6 Mar 18:10, before this.",)))
    return replace(caution, told=(), mark="", asked=" ".join((*asked, *before)))


def _told(random: Random, caution: Caution) -> Caution:
    """A rule of the shift that is only followed up, and was perhaps told."""
    if random.random() < 0.7:
        return caution
    return replace(caution, told=(f'Told 09:20: "{random_text(random, 160)}".',), mark="TOLD")


@cache
def composed() -> tuple[PatientPage, ...]:
    """Pages of hand-overs of few and of many entries, with everything known and with nothing."""
    return (*(patient_page(_course(count)) for count in COUNTS), patient_page(_bare()), gravest())


@cache
def gravest() -> PatientPage:
    """The page of a patient who meets every escalation and most other rules."""
    return patient_page(GRAVEST)


def _course(count: int) -> Handover:
    """So many readings a few minutes apart, the last in this shift."""
    minutes = [-3 * 24 * 60 + 60 + each * (4 * 24 * 60 // max(count, 1)) for each in range(count)]
    entries = [
        entry(
            f"{minute // 1440:+d} {minute % 1440 // 60:02}:{minute % 60:02}",
            volume_ml=600 + 50 * (minute % 37),
            breaths=minute % 13,
            flow=("steady", "fast", "steady", "blew")[minute % 4],
        )
        for minute in minutes
        if minute < 19 * 60
    ]
    return handover(*entries, patients=(patient(order=order("-3 01:00", goal_ml=2000)),))


def _bare() -> Handover:
    nothing = patient(
        name="",
        born=None,
        order=order(),
        device_given=None,
        device_labelled=None,
        device_scale_ml=None,
        taught=None,
        shown_back=None,
    )
    return handover(patients=(nothing,))


DANGERS = entry(
    "08:00",
    "dizzy faint chest_pain drowsy confused breathless wheeze",
    spo2=70,
    resp_rate=44,
    pulse=160,
    temp_c=34.0,
    pain=9,
    volume_ml=500,
    breaths=30,
    flow="steady",
)
GRAVEST = handover(
    *(entry(f"-1 {hour:02}:00", volume_ml=1500) for hour in (8, 9, 10)),
    DANGERS,
    *(entry(f"{hour:02}:20", flow="blew", note="n" * 2000, temp_c=39.0) for hour in range(8, 19)),
    *(entry(f"{hour:02}:25", volume_ml=480, hold_s=1) for hour in range(8, 19)),
    *(entry(f"{hour:02}:40", what="declined") for hour in (9, 10)),
    *(entry(f"{hour:02}:50", what="told", note="told " * 400) for hour in (16, 17, 18)),
    patients=(
        patient(
            name="Larkspur-" * 13 + "Od",
            reason="reason " * 280,
            bed="Long corridor bay 14 window",
            order=order("-1 07:00", goal_ml=5500, by="Dr " + "Q" * 120),
            device_labelled=None,
            shown_back=None,
            baseline_ml=1900,
        ),
    ),
)
GRAVEST_ALERTED = replace(GRAVEST, name_alerts={"10442": ("5", "7B")})
