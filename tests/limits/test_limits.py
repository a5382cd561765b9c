"""The default limits, and a unit's own file over them.

Published: NEWS2 (Royal College of Physicians 2017). From memory: AARC 1991. The rest is common
practice. The table below states each number once more, by hand, from the rules' documentation.
"""

import codecs
import re
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest

from handoff.cli.main import main
from handoff.limits.printing import print_limits, yaml_limits
from handoff.limits.reading import Limits, is_looser, load_limits
from handoff.model.findings import Finding, Severity, text
from tests.support.builders import default_limits, with_limit, without_rules
from tests.support.logs import ROOT

APPROVED = "approved_by: Dr T. Quill\napproved_on: 2026-03-01\n"

NEWS2 = "published"
AARC = "memory"
USUAL = "common practice"


def load(
    tmp_path: Path, rules: str, approved: str = APPROVED
) -> tuple[Limits | None, list[Finding]]:
    file = tmp_path / "unit.yaml"
    file.write_text(f"{approved}{rules}", encoding="utf-8")
    return load_limits(str(file))


def loaded(tmp_path: Path, rules: str) -> Limits:
    limits, findings = load(tmp_path, rules)
    assert limits is not None, [text(each) for each in findings]
    assert findings == []
    return limits


def refused(tmp_path: Path, rules: str, approved: str = APPROVED) -> Finding:
    limits, findings = load(tmp_path, rules, approved)
    assert limits is None
    assert len(findings) == 1, [text(each) for each in findings]
    assert findings[0].severity is Severity.ERROR
    assert findings[0].place.file == str(tmp_path / "unit.yaml")
    return findings[0]


DEFAULTS = [
    ("low-oxygen", "spo2_at_or_under", 91, "%", NEWS2),
    ("high-oxygen", "spo2_min_at_or_under", 90, "%", USUAL),
    ("high-oxygen", "spo2_max_at_or_under", 92, "%", NEWS2),
    ("high-oxygen", "spo2_at_or_over", 97, "%", NEWS2),
    ("high-oxygen", "minutes_at_or_under", 60, "min", USUAL),
    ("breathing-rate", "resp_rate_at_or_under", 8, "/min", NEWS2),
    ("breathing-rate", "resp_rate_at_or_over", 25, "/min", NEWS2),
    ("pulse", "pulse_at_or_under", 40, "/min", NEWS2),
    ("pulse", "pulse_at_or_over", 131, "/min", NEWS2),
    ("low-temperature", "temp_c_at_or_under", 35, "Cel", NEWS2),
    ("fever", "temp_c_at_or_over", 38, "Cel", USUAL),
    ("fever", "high_temp_c_at_or_over", Fraction("39.1"), "Cel", USUAL),
    ("dizziness-again", "times_at_or_over", 2, "{times}", USUAL),
    ("dizziness-again", "times_to_escalate_at_or_over", 3, "{times}", USUAL),
    ("dizziness-with-signs", "minutes_at_or_under", 60, "min", USUAL),
    ("breathless-again", "times_at_or_over", 2, "{times}", USUAL),
    ("breathless-again", "minutes_at_or_under", 60, "min", USUAL),
    ("volume-drop", "one_percent_at_or_under", 50, "%", USUAL),
    ("volume-drop", "one_ml_under_at_or_over", 200, "mL", USUAL),
    ("volume-drop", "two_percent_at_or_under", 80, "%", USUAL),
    ("volume-drop", "two_ml_under_at_or_over", 200, "mL", USUAL),
    ("volume-drop", "three_percent_at_or_under", 85, "%", USUAL),
    ("volume-drop", "three_ml_under_at_or_over", 150, "mL", USUAL),
    ("volume-drop", "alone_percent_at_or_under", 80, "%", USUAL),
    ("volume-drop", "alone_ml_under_at_or_over", 200, "mL", USUAL),
    ("volume-drop-with-signs", "deep_percent_at_or_under", 70, "%", USUAL),
    ("volume-drop-with-signs", "deep_ml_under_at_or_over", 250, "mL", USUAL),
    ("volume-drop-with-signs", "sign_percent_at_or_under", 85, "%", USUAL),
    ("volume-drop-with-signs", "sign_ml_under_at_or_over", 150, "mL", USUAL),
    ("volume-too-low", "part_of_reference_under", Fraction(1, 3), "1", AARC),
    ("volume-too-low", "ml_per_kg_under", 10, "mL/kg", AARC),
    ("volume-too-low", "readings_at_or_over", 2, "{readings}", USUAL),
    ("not-started", "hours_at_or_over", 2, "h", USUAL),
    ("nothing-charted", "slots_due_at_or_over", 2, "{slots}", USUAL),
    ("not-seen", "available_hours_at_or_over", 6, "h", USUAL),
    ("not-seen", "clock_hours_at_or_over", 4, "h", USUAL),
    ("not-charted", "part_of_slots_at_or_over", Fraction(1, 2), "1", USUAL),
    ("not-charted", "slots_at_or_over", 2, "{slots}", USUAL),
    ("not-charted", "available_minutes_at_or_over", 15, "min", USUAL),
    ("not-taught", "hours_at_or_over", 2, "h", USUAL),
    ("low-adherence", "percent_under", 50, "%", USUAL),
    ("low-adherence", "charted_slots_at_or_over", 3, "{slots}", USUAL),
    ("low-adherence", "part_off_form_at_or_over", Fraction(1, 2), "1", USUAL),
    ("declined", "entries_at_or_over", 2, "{entries}", USUAL),
    ("pain-limits", "pain_once_at_or_over", 7, "{score}", USUAL),
    ("pain-limits", "pain_at_or_over", 4, "{score}", USUAL),
    ("pain-limits", "entries_at_or_over", 2, "{entries}", USUAL),
    ("pain-again", "pain_at_or_over", 7, "{score}", USUAL),
    ("pain-again", "minutes_at_or_over", 30, "min", USUAL),
    ("technique", "blew_at_or_over", 1, "{exercises}", USUAL),
    ("technique", "part_off_form_at_or_over", Fraction(1, 3), "1", USUAL),
    ("technique", "exercises_at_or_over", 3, "{exercises}", USUAL),
    ("short-hold", "exercises_at_or_over", 3, "{exercises}", USUAL),
    ("too-many-at-once", "breaths_over", 10, "{breaths}", USUAL),
    ("came-from-elsewhere", "hours_at_or_over", 2, "h", USUAL),
    ("going-home", "days_at_or_under", 1, "d", USUAL),
]


@pytest.mark.parametrize(("rule", "name", "value", "unit", "mark"), DEFAULTS)
def test_default_limit(rule: str, name: str, value: Fraction, unit: str, mark: str) -> None:
    limit = default_limits().limit(rule, name)
    assert (limit.value, limit.unit, limit.mark) == (value, unit, mark)


def test_every_default_limit_is_in_the_table_above() -> None:
    held = [(rule, name) for rule, each in default_limits().rules.items() for name in each.limits]
    assert [(rule, name) for rule, name, *_ in DEFAULTS] == held


ESCALATIONS = (
    "low-oxygen", "high-oxygen", "breathing-rate", "pulse", "low-temperature", "fever",
    "faint-or-chest-pain", "drowsy-or-confused", "dizziness-again", "dizziness-with-signs",
    "breathless-again", "volume-drop-with-signs", "pain-again", "sign-unreadable",
)  # fmt: skip
NOTES = (
    "not-charted", "not-labelled", "short-hold", "goal-reached", "reading-at-scale", "no-goal",
)  # fmt: skip


def test_levels() -> None:
    rules = default_limits().rules
    assert tuple(name for name, rule in rules.items() if rule.level == "escalate") == ESCALATIONS
    assert tuple(name for name, rule in rules.items() if rule.level == "note") == NOTES
    assert {rule.level for rule in rules.values()} == {"escalate", "follow_up", "note"}
    assert {name for name, rule in rules.items() if rule.milder_level} == {
        *("high-oxygen", "fever", "dizziness-again", "volume-drop", "sign-unreadable")
    }


def test_every_default_lies_within_its_own_range_and_has_source_and_mark() -> None:
    for rule in default_limits().rules.values():
        for limit in rule.limits.values():
            assert limit.at_least <= limit.value <= limit.at_most
            assert limit.source
            assert limit.mark in (NEWS2, AARC, USUAL)
            assert (limit.source == "none published") == (limit.mark == USUAL)
        assert (rule.source is None) == (rule.mark is None) == bool(rule.limits)


def test_the_default_limits_name_no_file_and_nothing_off() -> None:
    limits = default_limits()
    assert (limits.file, limits.approved_by, limits.approved_on) == (None, None, None)
    assert (limits.edition, limits.off, limits.changed) == ("1", (), ())


@pytest.mark.parametrize(
    ("rule", "name", "cited"),
    [
        (
            "pulse", "pulse_at_or_over",
            "NEWS2 (Royal College of Physicians 2017), one parameter scoring 3",
        ),
        (
            "volume-too-low", "ml_per_kg_under",
            "AARC 1991 (Respir Care 36(12):1402-1405), from memory",
        ),
        ("fever", "temp_c_at_or_over", "common practice"),
        ("no-goal", None, "common practice"),
    ],
)  # fmt: skip
def test_a_source_is_cited_as_what_it_is(rule: str, name: str | None, cited: str) -> None:
    assert default_limits().cited(rule, name) == cited


def test_a_units_file_changes_one_value_and_leaves_the_rest(tmp_path: Path) -> None:
    limits = loaded(
        tmp_path,
        "rules: {fever: {limits: {temp_c_at_or_over: {value: 38.3, unit: Cel}}}}",
    )
    assert limits.value("fever", "temp_c_at_or_over") == 38.3
    assert limits.limit("fever", "temp_c_at_or_over").mark == "the unit's own"
    file = tmp_path / "unit.yaml"
    assert limits.cited("fever", "temp_c_at_or_over") == (
        f"{file}, approved by Dr T. Quill on 2026-03-01"
    )
    assert (limits.file, limits.approved_on) == (str(file), date(2026, 3, 1))
    default = default_limits()
    assert {name for name in limits.rules if limits.rules[name] != default.rules[name]} == {"fever"}
    assert list(limits.rules) == list(default.rules)


def test_a_value_that_is_the_default_keeps_its_source(tmp_path: Path) -> None:
    limits = loaded(
        tmp_path, "rules: {pulse: {limits: {pulse_at_or_over: {value: 131.0, unit: /min}}}}"
    )
    assert limits.rules == default_limits().rules


def test_a_units_file_switches_rules_off(tmp_path: Path) -> None:
    limits = loaded(
        tmp_path, "rules:\n  no-goal: off\n  technique: 'OFF'\n  pulse: on\n  declined:\n"
    )
    assert limits.off == ("technique", "no-goal")
    assert limits.is_on("pulse")
    assert limits.is_on("declined")
    assert not limits.is_on("technique")


def test_an_approved_file_without_a_change_is_the_default(tmp_path: Path) -> None:
    assert loaded(tmp_path, "").rules == default_limits().rules


def test_the_default_file_itself_can_be_approved_and_given_back(tmp_path: Path) -> None:
    default = ROOT / "handoff" / "limits" / "limits.yaml"
    assert loaded(tmp_path, default.read_text(encoding="utf-8")).rules == default_limits().rules


@pytest.mark.parametrize("value", ["24", "24.0", '"24"'])
def test_a_number_may_be_written_in_several_ways(tmp_path: Path, value: str) -> None:
    rules = rule("breathing-rate", limit("resp_rate_at_or_over", value, "/min"))
    assert loaded(tmp_path, rules).value("breathing-rate", "resp_rate_at_or_over") == 24


def test_a_part_may_be_a_fraction(tmp_path: Path) -> None:
    rules = 'rules: {technique: {limits: {part_off_form_at_or_over: {value: 2/5, unit: "1"}}}}'
    assert loaded(tmp_path, rules).value("technique", "part_off_form_at_or_over") == 0.4


def limit(name: str, value: str, unit: str) -> str:
    return f"      {name}: {{value: {value}, unit: {unit}}}\n"


def rule(name: str, limits: str) -> str:
    return f"rules:\n  {name}:\n    limits:\n{limits}"


FEVER = rule("fever", limit("temp_c_at_or_over", "38.3", "Cel"))


@pytest.mark.parametrize(
    ("rules", "expected"),
    [
        (
            rule("fevr", limit("temp_c_at_or_over", "38.3", "Cel")),
            ("limits-unknown-key", 4, "fevr", None, "Did you mean fever?"),
        ),
        (
            rule("fever", limit("temp_at_or_over", "38.3", "Cel")),
            ("limits-unknown-key", 6, "temp_at_or_over", None, "Did you mean temp_c_at_or_over?"),
        ),
        ("rule: {}\n", ("limits-unknown-key", 3, "rule", None, "Did you mean rules?")),
        (
            "rules: {fever: {levels: note}}\n",
            ("limits-unknown-key", 3, "levels", "note", "Did you mean level?"),
        ),
        (
            "rules: {no-goal: {limits: {zzz: {}}}}\n",
            ("limits-unknown-key", 3, "zzz", None, ""),
        ),
        (
            rule("fever", limit("temp_c_at_or_over", "38.3", "degF")),
            ("limits-wrong-unit", 6, "unit", "degF", '"Cel"'),
        ),
        (
            rule("fever", limit("temp_c_at_or_over", "100.4", "Cel")),
            ("limits-out-of-range", 6, "value", "100.4", "37.5 to 39.5 Cel"),
        ),
        (
            rule("low-oxygen", limit("spo2_at_or_under", "97.1", '"%"')),
            ("limits-out-of-range", 6, "value", "97.1", "91 to 97 %"),
        ),
        (
            rule("low-oxygen", limit("spo2_at_or_under", "90", '"%"')),
            ("limits-looser", 6, "value", "90", "stands in the order"),
        ),
        (
            rule("pulse", limit("pulse_at_or_over", "132", "/min")),
            ("limits-looser", 6, "value", "132", "100 to 131 /min"),
        ),
        (
            "rules: {faint-or-chest-pain: off}\n",
            ("limits-never-off", 3, "faint-or-chest-pain", "off", "in the order"),
        ),
        (
            rule("fever", limit("temp_c_at_or_over", "38.O", "Cel")),
            ("limits-not-a-number", 6, "value", "38.O", "1/3"),
        ),
        (
            rule("technique", limit("part_off_form_at_or_over", "1/0", '"1"')),
            ("limits-not-a-number", 6, "value", "1/0", "1/3"),
        ),
        (
            rule("declined", limit("entries_at_or_over", "2.5", '"{entries}"')),
            ("limits-not-whole", 6, "value", "2.5", ""),
        ),
        (
            "rules: {fever: {limits: {temp_c_at_or_over: {value: 38.3}}}}\n",
            ("limits-incomplete", 3, "temp_c_at_or_over", None, '{value: 38, unit: "Cel"}'),
        ),
        (
            "rules: {fever: {limits: {temp_c_at_or_over: 38.3}}}\n",
            (
                "limits-incomplete", 3, "temp_c_at_or_over", "38.3",
                '{value: 38, unit: "Cel"}',
            ),
        ),
        (
            "rules: {fever: never}\n",
            ("limits-shape", 3, "fever", "never", "`off`, or `limits:`"),
        ),
        ("rules: [fever]\n", ("limits-shape", 3, "rules", None, "`name: value`")),
        (
            "rules: {pulse: {level: note}}\n",
            ("limits-fixed", 3, "level", "note", ""),
        ),
        (
            FEVER + "        at_most: 42\n",
            ("yaml-syntax", 7, None, "at_most: 42", ""),
        ),
        (
            FEVER + FEVER.partition("limits:\n")[2],
            ("duplicate-key", 7, None, None, ""),
        ),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_units_file_has_its_place_and_a_way_to_mend_it(
    tmp_path: Path,
    rules: str,
    expected: tuple[str, int, str | None, str | None, str],
) -> None:
    finding = refused(tmp_path, rules)
    *what_and_where, fact = expected
    assert [finding.code, finding.place.line, finding.field, finding.raw] == what_and_where
    assert fact in finding.fix


@pytest.mark.parametrize("value", ["37.5", "39.5"])
def test_both_ends_of_the_range_are_allowed(tmp_path: Path, value: str) -> None:
    limits = loaded(tmp_path, rule("fever", limit("temp_c_at_or_over", value, "Cel")))
    assert limits.value("fever", "temp_c_at_or_over") == float(value)


def test_a_changed_range_is_refused(tmp_path: Path) -> None:
    rules = "rules: {fever: {limits: {temp_c_at_or_over: {value: 42, unit: Cel, at_most: 45}}}}\n"
    _, findings = load(tmp_path, rules)
    assert {each.code for each in findings} == {"limits-fixed", "limits-out-of-range"}


def test_every_error_is_told_at_once(tmp_path: Path) -> None:
    rules = rule(
        "pulse", limit("pulse_at_or_under", "4O", "/min") + limit("pulse_at_or_ovr", "120", "/min")
    )
    limits, findings = load(tmp_path, rules, approved="")
    assert limits is None
    assert sorted((each.code, each.place.line or 0) for each in findings) == [
        ("limits-not-a-number", 4),
        ("limits-not-approved", 1),
        ("limits-not-approved", 1),
        ("limits-unknown-key", 5),
    ]


@pytest.mark.parametrize(
    ("approved", "code", "line", "field"),
    [
        ("approved_by: Dr T. Quill\n", "limits-not-approved", 1, "approved_on"),
        ("approved_on: 2026-03-01\n", "limits-not-approved", 1, "approved_by"),
        ("approved_on: 2026-03-01\napproved_by:\n", "limits-not-approved", 2, "approved_by"),
        ("approved_on: 2026-03-01\napproved_by: ' '\n", "limits-not-approved", 2, "approved_by"),
        ("approved_by: Dr T. Quill\napproved_on: March\n", "limits-not-a-date", 2, "approved_on"),
        (
            "approved_by: Dr T. Quill\napproved_on: 2026-02-30\n",
            "limits-not-a-date",
            2,
            "approved_on",
        ),
    ],
)
def test_limits_that_nobody_approved_are_refused(
    tmp_path: Path, approved: str, code: str, line: int, field: str
) -> None:
    finding = refused(tmp_path, FEVER, approved)
    assert (finding.code, finding.place.line, finding.field) == (code, line, field)


@pytest.mark.parametrize("mark", [codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE, codecs.BOM_UTF8])
def test_limits_as_powershell_and_editors_of_windows_write_them_are_read(
    mark: bytes, tmp_path: Path
) -> None:
    file = tmp_path / "unit.yaml"
    encoding = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}
    lines = f"# 38.3 °C\n{APPROVED.replace('Quill', 'Québec')}{FEVER}".replace("\n", "\r\n")
    file.write_bytes(mark + lines.encode(encoding.get(mark, "utf-8")))
    limits, findings = load_limits(str(file))
    assert limits is not None
    assert findings == []
    assert limits.value("fever", "temp_c_at_or_over") == 38.3
    assert limits.approved_by == "Dr T. Québec"


def test_another_edition_is_a_warning_and_the_limits_hold(tmp_path: Path) -> None:
    limits, findings = load(tmp_path, f'edition: "0"\n{FEVER}')
    assert limits is not None
    assert limits.value("fever", "temp_c_at_or_over") == 38.3
    assert [(each.code, each.severity, each.place.line) for each in findings] == [
        ("limits-edition", "warning", 3)
    ]


def test_a_file_that_is_not_there_a_folder_and_a_binary_one_are_findings(tmp_path: Path) -> None:
    binary = tmp_path / "binary.yaml"
    binary.write_bytes(b"\xff\xfe\x00")
    reasons = {
        tmp_path / "none.yaml": "No such file or directory",
        tmp_path: "Is a directory",
        binary: "it is not UTF-8 text",
    }
    for path, reason in reasons.items():
        limits, findings = load_limits(str(path))
        assert limits is None
        (found,) = findings
        assert (found.code, found.place.file) == ("limits-unreadable", str(path))
        assert reason in found.message


def test_an_empty_file_is_not_approved(tmp_path: Path) -> None:
    _, findings = load(tmp_path, "", approved="")
    assert {each.code for each in findings} == {"limits-not-approved"}


def approve(printed: str) -> str:
    return printed.replace("approved_by:", "approved_by: A. Fern").replace(
        "approved_on:", "approved_on: 2026-04-01"
    )


@pytest.mark.parametrize(
    "limits",
    [
        default_limits(),
        with_limit("technique", "part_off_form_at_or_over", "2/7"),
        with_limit("fever", "temp_c_at_or_over", "38.3"),
        without_rules("technique", "no-goal"),
    ],
)
def test_printed_yaml_loads_back_to_the_same_limits_once_approved(
    tmp_path: Path, limits: Limits
) -> None:
    back = loaded_from(tmp_path, approve(yaml_limits(limits)))
    assert back.off == limits.off
    for name in limits.rules:
        if limits.is_on(name):
            values = {each: value.value for each, value in limits.rules[name].limits.items()}
            assert {n: v.value for n, v in back.rules[name].limits.items()} == values


def loaded_from(tmp_path: Path, printed: str) -> Limits:
    file = tmp_path / "printed.yaml"
    file.write_text(printed, encoding="utf-8")
    limits, findings = load_limits(str(file))
    assert limits is not None, [text(each) for each in findings]
    return limits


def test_printed_yaml_is_refused_until_it_is_approved(tmp_path: Path) -> None:
    _, findings = load(tmp_path, yaml_limits(default_limits()), approved="")
    assert [each.code for each in findings] == ["limits-not-approved", "limits-not-approved"]


def test_the_table_has_every_limit_with_value_unit_mark_and_source() -> None:
    limits = default_limits()
    rows = [line.split("  ") for line in print_limits(limits).splitlines()]
    cells = [[cell.strip() for cell in row if cell.strip()] for row in rows]
    assert [
        "fever",
        "escalate",
        "temp_c_at_or_over",
        "38",
        "Cel",
        USUAL,
        "none published",
    ] in cells
    for name, each in limits.rules.items():
        for limit_name, held in each.limits.items():
            assert any(
                row[:1] == [name]
                and row[2:3] == [limit_name]
                and row[4:] == [held.unit, held.mark, held.source]
                for row in cells
            )
        assert any(row[:2] == [name, each.level] for row in cells)
    assert "1/3" in print_limits(limits)


def test_the_table_says_what_is_the_units_own_and_what_is_off() -> None:
    own = print_limits(with_limit("fever", "temp_c_at_or_over", "38.3"))
    assert "Limits, edition 1." in own
    assert "unit.yaml, approved by Dr T. Quill on 2026-03-01" in own
    (fever,) = (line for line in own.splitlines() if " temp_c_at_or_over" in line)
    assert "38.3" in fever
    assert "the unit's own" in fever
    off = print_limits(without_rules("technique"))
    assert "Switched off: technique." in off
    assert all("off" in line for line in off.splitlines() if line.startswith("technique"))


def test_findings_stand_in_the_order_of_the_file(tmp_path: Path) -> None:
    names = [f"unknown{number}" for number in range(9)]
    _, findings = load(tmp_path, "".join(f"{name}: 1\n" for name in names))
    assert [each.field for each in findings] == names


def test_an_endless_number_is_a_finding(tmp_path: Path) -> None:
    rules = rule("fever", limit("temp_c_at_or_over", "3" * 5000, "Cel"))
    assert refused(tmp_path, rules).code == "limits-not-a-number"


def test_a_missing_approval_says_who_and_when(tmp_path: Path) -> None:
    _, findings = load(tmp_path, "", approved="")
    assert {each.field: each.fix for each in findings} == {
        "approved_by": "Write `approved_by:` and who approved these limits.",
        "approved_on": "Write `approved_on:` and when these limits were approved (year-month-day).",
    }


def test_a_rule_is_switched_off_as_the_file_says(tmp_path: Path) -> None:
    """`off` behind each name, and the lines of its limits deleted; what may escalate stays on."""
    text = yaml_limits(default_limits())
    words = text.replace("\n# ", " ")
    assert "write `off` behind its name and delete the lines of its limits" in words
    assert "one that may escalate stays on" in words
    head, rules = text.split("rules:\n")
    lines = [line for line in rules.splitlines() if line[2:3].strip()]
    may_be_off = [line.split(":")[0] for line in lines if not line.endswith("# escalate")]
    off = "".join(f"{name}: off\n" for name in may_be_off)
    limits = loaded_from(tmp_path, approve(f"{head}rules:\n{off}"))
    rules_on = {name for name, each in limits.rules.items() if each.on}
    assert rules_on == {name for name in limits.rules if limits.level(name) == "escalate"}


def test_units_and_marks_are_explained_where_they_are_shown() -> None:
    for shown in (print_limits(default_limits()), yaml_limits(default_limits())):
        assert "Cel is °C" in shown
        assert "memory: the source is named from memory and wants checking" in shown


# Whose limits: a unit makes a published limit only stricter, and switches no escalation off.

LOOSE = """\
rules:
  low-oxygen: {limits: {spo2_at_or_under: {value: 81, unit: "%"}}}
  breathing-rate: {limits: {resp_rate_at_or_over: {value: 35, unit: /min}}}
  pulse: {limits: {pulse_at_or_over: {value: 160, unit: /min}}}
  faint-or-chest-pain: off
"""


def test_a_file_that_lets_spo2_82_rate_34_pulse_158_and_chest_pain_pass_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Once it printed CONTINUE for all four."""
    log, own = tmp_path / "log.csv", tmp_path / "unit.yaml"
    log.write_text(
        "unit,time_zone,shift_start,shift_end,patient_id,name,born,bed,order_start,at,spo2,resp_rate,"
        "pulse,symptoms\nHarbour 3 East,America/Halifax,2026-03-07 07:00,2026-03-07 19:00,10442,"
        '"Larkspur, Odile",1958-04-02,12A,2026-03-07 08:00,2026-03-07 12:00,82,34,158,chest_pain\n',
        encoding="utf-8",
    )
    own.write_text(f"{APPROVED}{LOOSE}", encoding="utf-8")
    asked = ["sheets", str(log), "--out", str(tmp_path / "out")]
    assert main([*asked, "--limits", str(own)]) == 2
    assert not (tmp_path / "out").exists()
    told = capsys.readouterr().err
    assert told.count("this is looser than the published limit") == 3
    assert told.count("this rule may escalate, so it cannot be switched off") == 1


@pytest.mark.parametrize(
    ("name", "stricter", "looser"),
    [
        ("spo2_at_or_under", 92, 90),
        ("ml_per_kg_under", 11, 9),
        ("pulse_at_or_over", 130, 132),
        ("breaths_over", 9, 11),
    ],
)
def test_which_side_is_stricter_is_clear_from_the_end_of_the_name(
    name: str, stricter: int, looser: int
) -> None:
    usual = Fraction(stricter + looser, 2)
    assert not is_looser(name, Fraction(stricter), usual)
    assert not is_looser(name, usual, usual)
    assert is_looser(name, Fraction(looser), usual)


def test_the_name_of_every_limit_says_on_which_side_it_is_met() -> None:
    names = [name for _, name, *_ in DEFAULTS]
    assert all(name.endswith(("_under", "_over")) for name in names)


@pytest.mark.parametrize(
    ("rule_name", "name"),
    [(rule_name, name) for rule_name, name, *_, mark in DEFAULTS if mark == NEWS2],
)
def test_a_published_limit_may_only_be_made_stricter(
    tmp_path: Path, rule_name: str, name: str
) -> None:
    """The whole of its range is stricter, and one step past its looser end is refused. That of a
    published target has nothing but its value.
    """
    held = default_limits().limit(rule_name, name)
    assert not is_looser(name, held.at_least, held.value)
    assert not is_looser(name, held.at_most, held.value)
    stricter, looser = (1, -1) if name.endswith("_under") else (-1, 1)
    rules = rule(rule_name, limit(name, str(held.value + looser), f'"{held.unit}"'))
    assert refused(tmp_path, rules).code == "limits-looser"
    if held.at_least == held.at_most:
        return
    own = loaded(
        tmp_path, rule(rule_name, limit(name, str(held.value + stricter), f'"{held.unit}"'))
    )
    assert own.changed == ((rule_name, name),)


@pytest.mark.parametrize(
    "name", [name for name, each in default_limits().rules.items() if each.level == "escalate"]
)
def test_no_rule_that_may_escalate_is_switched_off(tmp_path: Path, name: str) -> None:
    """Also one that is mostly followed up: its gravest level counts."""
    assert refused(tmp_path, f"rules: {{{name}: off}}\n").code == "limits-never-off"


def test_a_limit_of_common_practice_stays_within_its_range(tmp_path: Path) -> None:
    """It has no published value to be looser than."""
    looser = rule("volume-drop", limit("two_percent_at_or_under", "60", '"%"'))
    assert loaded(tmp_path, looser).value("volume-drop", "two_percent_at_or_under") == 60


def test_every_limit_without_a_published_source_stays_marked() -> None:
    """'published' stands beside a source with its year; 'common practice' is never more than that.
    `handoff limits` prints the mark of each.
    """
    printed = [re.split(" {2,}", line) for line in print_limits(default_limits()).splitlines()]
    marked = {tuple(row[:3]): tuple(row[-2:]) for row in printed if len(row) == 7}
    for rule_name, each in default_limits().rules.items():
        held = {name: (of.mark, of.source) for name, of in each.limits.items()}
        for name, (mark, source) in (held or {"-": (each.mark or "", each.source or "")}).items():
            assert mark in {NEWS2, AARC, USUAL}, (rule_name, name)
            if mark == USUAL:
                assert source == "none published"
            else:
                assert re.search(r"\b(19|20)[0-9]{2}\b", source), (rule_name, name)
                assert "memory" not in source  # the mark says so, and is printed
            assert marked[rule_name, each.level, name] == (mark, source)
