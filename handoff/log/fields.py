"""The log's contract with its users: every field's name, its place and its allowed values.

Input: nothing, or a name as somebody wrote it. Output: `Field` records and look-ups made from the
one table `FIELDS`. Never reads a log: readers and checks look up their fields here.
"""

import difflib
import re
import unicodedata
from collections import defaultdict
from collections.abc import Collection, Iterable
from enum import StrEnum, auto

from handoff.model.frozen import Frozen
from handoff.model.ward import Flow, Position, SeenBy, Symptom, What


class Section(StrEnum):
    """The part of a log a field belongs to."""

    UNIT = "unit"
    SHIFT = "shift"
    PATIENT = "patients"
    ENTRY = "entries"


class Kind(StrEnum):
    """What a cell of the field holds."""

    TEXT = auto()
    ZONE = auto()
    HOURS = auto()  # two clock times, or 'none'
    NUMBER = auto()
    WHOLE = auto()
    DAY = auto()
    MOMENT = auto()  # a time, which may be written without its date
    FACT_TIME = auto()  # a time, maybe long before the shift; it needs its date there
    DONE = auto()  # a time, yes or no
    YES_NO = auto()
    LANGUAGE = auto()  # a code of BCP 47
    CHOICE = auto()
    CHOICES = auto()


class Field(Frozen):
    """One field: `name` in a CSV header and in findings, `path` in YAML.

    `low` and `high` are inclusive and in `unit`; `longest` counts the characters of a text.
    `in_csv` is False for a field that only YAML has. A time without a date is the first such time
    after the field named in `after`; without such a field, at or after the shift's start.
    """

    name: str
    section: Section
    path: str
    kind: Kind = Kind.TEXT
    unit: str = ""
    low: float = 0
    high: float = 0
    choices: tuple[str, ...] = ()
    longest: int = 200
    in_csv: bool = True
    after: str = ""

    @property
    def column(self) -> str:
        """The field as YAML users write it: `order.goal_ml`, `unit.name`, `volume_ml`."""
        is_single = self.section in {Section.UNIT, Section.SHIFT}
        return f"{self.section}.{self.path}" if is_single else self.path


def _unit(name: str, path: str, kind: Kind = Kind.TEXT, *, in_csv: bool = True) -> Field:
    return Field(name, Section.UNIT, path, kind, in_csv=in_csv)


def _shift(name: str, path: str, *, in_csv: bool = True) -> Field:
    return Field(name, Section.SHIFT, path, in_csv=in_csv)


def _patient(name: str, path: str = "", kind: Kind = Kind.TEXT) -> Field:
    return Field(name, Section.PATIENT, path or name, kind)


def _number(
    section: Section, name: str, path: str, unit: str, allowed: tuple[float, float]
) -> Field:
    low, high = allowed
    return Field(name, section, path, Kind.NUMBER, unit, low, high)


def _whole(section: Section, name: str, path: str, allowed: tuple[int, int]) -> Field:
    low, high = allowed
    return Field(name, section, path, Kind.WHOLE, "", low, high)


def _choice(name: str, choices: Iterable[str], section: Section = Section.ENTRY) -> Field:
    return Field(name, section, name, Kind.CHOICE, choices=tuple(choices))


def _yes_no(section: Section, name: str, path: str) -> Field:
    return Field(name, section, path, Kind.YES_NO, choices=("yes", "no"))


P, E = Section.PATIENT, Section.ENTRY

# The topics of a `told` or `settled` row: the dangers followed from shift to shift, `all` that is
# on the patient's sheet, or something `other`.
ABOUT = (
    *("oxygen", "breathing", "pulse", "temperature", "faint", "chest_pain", "drowsy", "confused"),
    *("dizzy", "breathless", "wheeze", "pain", "volume", "all", "other"),
)

# Symptoms that may be ordered as usual for a patient; fainting, chest pain and drowsiness never.
MAY_BE_USUAL = tuple(
    symptom
    for symptom in Symptom
    if symptom not in {Symptom.FAINT, Symptom.CHEST_PAIN, Symptom.DROWSY, Symptom.NONE}
)

# Ranges are those of the log's contract. Where it gives none (order, goal, scale, baseline) they
# are common practice: wide enough for any real value, narrow enough to catch a typing slip.
FIELDS: tuple[Field, ...] = (
    _unit("unit", "name"),
    _unit("time_zone", "time_zone", Kind.ZONE),
    _unit("quiet_hours", "quiet_hours", Kind.HOURS),
    _unit("phone", "phone"),
    _unit("home_phone", "home_phone"),
    _shift("shift_name", "name", in_csv=False),
    Field("shift_start", Section.SHIFT, "start", Kind.FACT_TIME),
    Field("shift_end", Section.SHIFT, "end", Kind.MOMENT, after="shift_start"),
    _shift("outgoing", "outgoing"),
    _shift("incoming", "incoming"),
    _patient("patient_id", "id"),
    _patient("name"),
    _patient("born", kind=Kind.DAY),
    _patient("bed"),
    _choice("sex", ("female", "male"), P),
    _number(P, "height_cm", "height_cm", "cm", (100, 230)),
    _number(P, "weight_kg", "weight_kg", "kg", (5, 350)),
    _patient("language", kind=Kind.LANGUAGE),
    _patient("reason"),
    _patient("surgery_on", kind=Kind.DAY),
    Field("precautions", P, "precautions", longest=500),
    _patient("order_start", "order.start", Kind.FACT_TIME),
    _patient("order_stop", "order.stop", Kind.FACT_TIME),
    _whole(P, "order_breaths", "order.breaths", (1, 200)),
    _whole(P, "order_every_h", "order.every_h", (1, 24)),
    _number(P, "goal_ml", "order.goal_ml", "mL", (1, 6000)),
    _number(P, "order_hold_s", "order.hold_s", "s", (0, 60)),
    _patient("order_by", "order.by"),
    _number(P, "spo2_min", "order.spo2_min", "%", (50, 100)),
    _number(P, "spo2_max", "order.spo2_max", "%", (50, 100)),
    _number(P, "resp_rate_min", "order.resp_rate_min", "a minute", (0, 80)),
    _number(P, "resp_rate_max", "order.resp_rate_max", "a minute", (0, 80)),
    _number(P, "pulse_min", "order.pulse_min", "a minute", (0, 300)),
    _number(P, "pulse_max", "order.pulse_max", "a minute", (0, 300)),
    _number(P, "temp_max", "order.temp_max", "°C", (25, 45)),
    Field("usual_symptoms", P, "order.usual_symptoms", Kind.CHOICES, choices=MAY_BE_USUAL),
    _yes_no(P, "comfort_care", "order.comfort_care"),
    _number(P, "baseline_ml", "baseline_ml", "mL", (1, 6000)),
    _patient("device_given", "device.given", Kind.DONE),
    _yes_no(P, "device_labelled", "device.labelled"),
    _number(P, "device_scale_ml", "device.scale_ml", "mL", (1, 6000)),
    _patient("taught", "teaching.taught", Kind.DONE),
    _patient("shown_back", "teaching.shown_back", Kind.DONE),
    _patient("home_on", kind=Kind.DAY),
    Field("patient_id", E, "patient"),
    Field("at", E, "at", Kind.MOMENT),
    Field("until", E, "until", Kind.MOMENT, after="at"),
    _choice("what", (what for what in What if what is not What.SEEN)),
    Field("about", E, "about", Kind.CHOICES, choices=ABOUT),
    _whole(E, "breaths", "breaths", (0, 200)),
    _number(E, "volume_ml", "volume_ml", "mL", (0, 6000)),
    _number(E, "hold_s", "hold_s", "s", (0, 60)),
    _choice("flow", (flow for flow in Flow if flow is not Flow.UNREADABLE)),
    _choice("seen_by", SeenBy),
    _whole(E, "pain", "pain", (0, 10)),
    Field("symptoms", E, "symptoms", Kind.CHOICES, choices=tuple(Symptom)),
    _number(E, "spo2", "spo2", "%", (50, 100)),
    _number(E, "resp_rate", "resp_rate", "a minute", (0, 80)),
    _number(E, "pulse", "pulse", "a minute", (0, 300)),
    _number(E, "temp_c", "temp_c", "°C", (25, 45)),
    _yes_no(E, "on_oxygen", "on_oxygen"),
    Field("oxygen", E, "oxygen", longest=100),
    _choice("position", Position),
    Field("note", E, "note", longest=2000),
)


def fields_of(section: Section) -> tuple[Field, ...]:
    """The fields of one section, in the contract's order."""
    return tuple(field for field in FIELDS if field.section is section)


BY_NAME: dict[tuple[Section, str], Field] = {(f.section, f.name): f for f in FIELDS}
BY_PATH: dict[tuple[Section, str], Field] = {(f.section, f.path): f for f in FIELDS}
_OF_COLUMN: dict[str, Field] = {field.name: field for field in FIELDS if field.in_csv}
CSV_NAMES: frozenset[str] = frozenset(_OF_COLUMN)

# Columns of a file of rows set aside: the row's place, the reason, and the code of the reason.
SET_ASIDE_FROM, SET_ASIDE_BECAUSE = "set_aside_from", "set_aside_because"
SET_ASIDE_CODE = "set_aside_code"
_KNOWN_COLUMNS = CSV_NAMES | {SET_ASIDE_FROM, SET_ASIDE_BECAUSE, SET_ASIDE_CODE}

# The example values of a log to fill in. No unit has this name, no place this time zone, no shift
# these times: with any of them left, the shift is not known.
EXAMPLES = {
    "unit": "EXAMPLE UNIT",
    "time_zone": "Region/City",
    "shift_start": "2000-01-01 07:00",
    "shift_end": "2000-01-01 19:00",
}

# The parts of an order: their names in the contract and in `Order`.
ORDER_PARTS = {
    "order_start": "start",
    "order_stop": "stop",
    "order_breaths": "breaths",
    "order_every_h": "every_h",
    "goal_ml": "goal_ml",
    "order_hold_s": "hold_s",
    "order_by": "by",
    **{name: name for name in ("spo2_min", "spo2_max", "resp_rate_min", "resp_rate_max")},
    **{name: name for name in ("pulse_min", "pulse_max", "temp_max")},
    **{name: name for name in ("usual_symptoms", "comfort_care")},
}

# Spellings of a bracketed unit after a name without it, as in `Volume (mL)`.
_UNIT_SUFFIXES = {
    "ml": "ml",
    "s": "s",
    "sec": "s",
    "seconds": "s",
    "h": "h",
    "hours": "h",
    "c": "c",
    "cm": "cm",
    "kg": "kg",
}
# Spellings of a field's own unit in brackets, as in `Pulse (bpm)`; `(%)` holds no word.
_UNITS_IN_BRACKETS = {
    "%": "percent pct",
    "mL": "ml",
    "s": "s sec secs seconds",
    "cm": "cm",
    "kg": "kg",
    "\N{DEGREE SIGN}C": "c celsius deg_c",
    "a minute": "min per_min per_minute a_minute bpm rpm breaths_min beats_min 1_min",
}
# Words in brackets that change no meaning.
_SAYS_NOTHING_NEW = (
    *("optional", "required", "yes_no", "y_n", "24_h", "24h", "hh_mm", "local", "local_time"),
    *("yyyy_mm_dd", "yyyy_mm_dd_hh_mm"),
)
# Bedside words for a name or a word of the contract (common practice). Never read as that word: a
# finding asks whether it is meant. Where a text may mean several, the finding names the first that
# fits: `O2` is the column `on_oxygen`, but in the cell `about` it is `oxygen`.
_OTHERWISE_WRITTEN = {
    "patient_id": "id mrn",
    "name": "patient_name full_name",
    "born": "dob date_of_birth birth_date birthday",
    "bed": "room bay",
    "at": "time date_time datetime when",
    "until": "end to",
    "symptoms": "sx sxs symptom complaint complaints",
    "note": "notes comment comments remark remarks",
    "volume_ml": "vol best best_vol best_volume",
    "spo2": "sat sats o2_sat o2_sats saturation",
    "resp_rate": "rr resps respirations",
    "pulse": "hr heart_rate",
    "on_oxygen": "o2 supplemental_oxygen supplemental_o2",
    "oxygen": "o2 o2_flow fio2 flow_rate spo2 sat sats o2_sat saturation desaturation",
    "precautions": "precaution restrictions",
    "breathing": "rr resp resps respirations resp_rate respiratory_rate",
    "temperature": "temp temp_c fever",
    "volume": "volume_ml vol",
    "declined": "refused",
    "asleep": "sleeping",
    "told": "informed inform notified notify called paged phoned",
    "hold": "held stop stopped withhold withheld pause paused",
    "resume": "restart restarted resumed",
    "settled": "resolved over",
    "left": "discharged transferred died gone went_home home",
    "steady": "smooth",
    "blew": "exhaled",
    "nurse": "rn lpn",
    "aide": "cna hca",
    "therapist": "rt physio",
    "patient": "self",
    "chest_pain": "cp angina chest_tightness",
    "dizzy": "lightheaded light_headed giddy",
    "faint": "syncope passed_out collapsed",
    "breathless": "sob dyspnea dyspnoea short_of_breath",
    "drowsy": "sleepy",
    "fatigue": "tired",
    "sitting": "chair",
}
_MEANT: defaultdict[str, list[str]] = defaultdict(list)
for _known, _others in _OTHERWISE_WRITTEN.items():
    for _other in _others.split():
        _MEANT[_other].append(_known)
_SHORTEST_SLIP = 3  # letters of a word that may be a mistyped one: `sx` is not `sex`
_STEM = 4  # letters in which `dizziness` and `dizzy` are one word
_BRACKETED = re.compile(r"[(\[]([^)\]]*)[)\]]")


def _words(text: str) -> str:
    """The text in lower case, with one underscore for each run of other characters, none at the
    ends.
    """
    return re.sub(r"[\W_]+", "_", unicodedata.normalize("NFKC", text).casefold()).strip("_")


def match_header(header: str) -> str | None:
    """The contract's name for a CSV header cell, or None when it is none of them.

    Case, spaces, dashes and a bracketed unit do not matter: `Volume (mL)` is `volume_ml`. Any other
    word in brackets does matter: neither `Volume_mL (L)` nor `Breaths (ordered)` is a known name.
    """
    bare = _words(_BRACKETED.sub(" ", header))
    inside = words_in_brackets(header)
    if bare in _KNOWN_COLUMNS:
        return bare if all(_says_the_same(words, bare) for words in inside) else None
    suffix = _UNIT_SUFFIXES.get(inside[0]) if len(inside) == 1 else None
    name = f"{bare}_{suffix}"
    return name if suffix and name in CSV_NAMES else None


def words_in_brackets(header: str) -> list[str]:
    """What stands in each pair of brackets of a header cell; `(%)` and `()` hold no word."""
    return [words for each in _BRACKETED.findall(header) if (words := _words(each))]


def is_unit(words: str) -> bool:
    """Whether the words of a bracket are a unit of some field."""
    return words in _UNIT_SUFFIXES or any(
        words in each.split() for each in _UNITS_IN_BRACKETS.values()
    )


def _says_the_same(words: str, name: str) -> bool:
    """Whether a bracket after a field's name leaves its meaning as it is: its unit, its range, its
    choices, another word for it.
    """
    field = _OF_COLUMN.get(name)
    if field is None:
        return False
    same = {
        *_SAYS_NOTHING_NEW,
        *_UNITS_IN_BRACKETS.get(field.unit, "").split(),
        *_OTHERWISE_WRITTEN.get(name, "").split(),
        *(["h", "hours"] if name.endswith("_h") else []),
        f"{field.low:g}_{field.high:g}",
        name,
    }
    return words in same or set(words.split("_")) <= set("_".join(field.choices).split("_"))


def meant_by(word: str, known: Collection[str]) -> list[str]:
    """The known names that one word is, or is another word for."""
    return [word] if word in known else [name for name in _MEANT.get(word, ()) if name in known]


def nearest(written: str, known: Iterable[str]) -> str | None:
    """The known name that the text means or is most like; None when there is none."""
    names = list(known)
    words = _words(written)
    close = [name for name in _MEANT.get(words, ()) if name in names]
    if len(words) >= _SHORTEST_SLIP:
        close += difflib.get_close_matches(words, names, n=1)
    close += [name for name in names if name[:_STEM] == words[:_STEM]]
    return close[0] if close else None
