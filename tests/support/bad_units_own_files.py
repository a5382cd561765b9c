"""One small file of a unit's own for each thing that can be wrong with its limits and its words."""

from dataclasses import dataclass

from tests.support.bad_logs import Found

APPROVED = "approved_by: Dr T. Quill\napproved_on: 2026-03-01\n"


@dataclass(frozen=True)
class BadFile:
    """What stands in the file (None: nothing stands there), and all that is found in it."""

    content: bytes | None
    found: list[Found]
    name: str = "unit.yaml"


def _limits(code: str, text: str, line: int, column: str, approved: str = APPROVED) -> BadFile:
    return BadFile(f"{approved}{text}".encode(), [(line, column, code)])


def _fever(limit: str) -> str:
    return f"rules: {{fever: {{limits: {{temp_c_at_or_over: {limit}}}}}}}\n"


_FEVER = "rules.fever.limits.temp_c_at_or_over"
_DECLINED = "rules.declined.limits.entries_at_or_over"

BAD_LIMITS: dict[str, BadFile] = {
    "limits-unreadable": BadFile(None, [(None, None, "limits-unreadable")]),
    "limits-shape": _limits("limits-shape", "rules: [fever]\n", 3, "rules"),
    "limits-unknown-key": _limits("limits-unknown-key", "rules: {fevre: off}\n", 3, "rules.fevre"),
    "limits-incomplete": _limits("limits-incomplete", _fever("38.3"), 3, _FEVER),
    "limits-wrong-unit": _limits(
        "limits-wrong-unit", _fever("{value: 38.3, unit: degF}"), 3, f"{_FEVER}.unit"
    ),
    "limits-not-a-number": _limits(
        "limits-not-a-number", _fever("{value: 38.O, unit: Cel}"), 3, f"{_FEVER}.value"
    ),
    "limits-out-of-range": _limits(
        "limits-out-of-range", _fever("{value: 100.4, unit: Cel}"), 3, f"{_FEVER}.value"
    ),
    "limits-looser": _limits(
        "limits-looser",
        'rules: {low-oxygen: {limits: {spo2_at_or_under: {value: 90, unit: "%"}}}}\n',
        3,
        "rules.low-oxygen.limits.spo2_at_or_under.value",
    ),
    "limits-never-off": _limits("limits-never-off", "rules: {pulse: off}\n", 3, "rules.pulse"),
    "limits-not-whole": _limits(
        "limits-not-whole",
        'rules: {declined: {limits: {entries_at_or_over: {value: 2.5, unit: "{entries}"}}}}\n',
        3,
        f"{_DECLINED}.value",
    ),
    "limits-fixed": _limits(
        "limits-fixed", "rules: {pulse: {level: note}}\n", 3, "rules.pulse.level"
    ),
    "limits-edition": _limits("limits-edition", 'edition: "0"\n', 3, "edition"),
    "limits-not-approved": _limits(
        "limits-not-approved", "", 1, "approved_on", "approved_by: Dr T. Quill\n"
    ),
    "limits-not-a-date": _limits(
        "limits-not-a-date", "", 2, "approved_on", "approved_by: Dr T. Quill\napproved_on: March\n"
    ),
}


def _words(code: str, text: str, line: int | None, column: str | None) -> BadFile:
    return BadFile(text.encode(), [(line, column, code)], "sheet.yaml")


BAD_WORDS: dict[str, BadFile] = {
    "words-unreadable": BadFile(b"bed: \xff\n", [(None, None, "words-unreadable")], "sheet.yaml"),
    "bad-template": _words("bad-template", "bed: '{{ no_such_fact }}'\n", 1, "bed"),
    "unknown-words": _words("unknown-words", "bad: bed\n", 1, "bad"),
}


def _codes(code: str, text: str, line: int | None, column: str | None) -> BadFile:
    return BadFile(text.encode(), [(line, column, code)])


BAD_CODES: dict[str, BadFile] = {
    "codes-unreadable": BadFile(None, [(None, None, "codes-unreadable")]),
    "codes-shape": _codes(
        "codes-shape", "concepts: {exercise: {read: [19852-3]}}\n", 1, "concepts.exercise.read"
    ),
    "codes-unknown-key": _codes(
        "codes-unknown-key", "concepts: {exercize: {}}\n", 1, "concepts.exercize"
    ),
    "codes-edition": _codes("codes-edition", 'edition: "0"\n', 1, "edition"),
    "codes-taken": _codes(
        "codes-taken", "concepts: {pulse: {read: [loinc 9279-1]}}\n", 1, "concepts.pulse"
    ),
}
