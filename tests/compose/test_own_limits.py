"""What a unit's own limits file changes is printed at the foot of each sheet and of the summary."""

import pytest

from handoff.compose.limits import MOST_CHANGES, limit_changes
from handoff.compose.words import Words
from handoff.draw.paper.canvas import MARGIN_PT
from handoff.draw.paper.typeface import SMALL
from handoff.limits.reading import Limits
from tests.support.builders import (
    ZONE,
    all_changed,
    default_limits,
    entry,
    handover,
    with_limit,
    without_rules,
)
from tests.support.sheets import document, patient_page, section, unit_page

TITLE = "All that the unit's own limits change"


def feet(limits: Limits) -> tuple[str, str]:
    """The foot of a sheet, and of the summary."""
    given = handover(entry("09:00", volume_ml=1200))
    return " ".join(patient_page(given, limits).standing), " ".join(
        unit_page(given, limits).standing
    )


def test_the_foot_prints_each_changed_value_with_the_usual_one() -> None:
    limits = with_limit("low-oxygen", "spo2_at_or_under", "93")
    for foot in feet(limits):
        assert (
            "Limits in force: unit.yaml of the unit, approved by Dr T. Quill on 1 Mar 2026: "
            "SpO2 93 % or less (usual 91). All others by handoff's edition 1."
        ) in foot


def test_the_foot_names_what_is_switched_off() -> None:
    for foot in feet(without_rules("going-home", "breathless")):
        assert ": breathless or wheeze: switched off; going home: switched off. All others" in foot


def test_the_foot_without_a_file_names_the_edition_alone() -> None:
    for foot in feet(default_limits()):
        assert "Limits in force: handoff's edition 1." in foot


def test_a_fraction_is_printed_as_it_is_written() -> None:
    (change,) = limit_changes(
        with_limit("volume-too-low", "part_of_reference_under", "2/5"), Words(ZONE)
    )
    assert change == "very low volume under 0.4 of the reference (usual 1/3)"


def test_the_most_changes_that_a_file_can_hold_are_counted_at_the_foot_and_all_in_the_summary() -> (
    None
):
    """The gravest are at the foot; no more than four lines of it, so that it never gives way."""
    limits = all_changed()
    changes = limit_changes(limits, Words(ZONE))
    assert len(changes) == len(limits.changed) + len(limits.off) > 4 * MOST_CHANGES
    assert changes[0] == "SpO2 97 % or less (usual 91)"
    for foot in feet(limits):
        assert f"; and {len(changes) - MOST_CHANGES} more, in the unit summary." in foot
        assert all(each in foot for each in changes[:MOST_CHANGES])
        assert changes[MOST_CHANGES] not in foot
    page = unit_page(handover(), limits)
    (line,) = section(page, TITLE)
    assert line.text == "; ".join(changes)
    on_letter = document()
    width = on_letter.paper[0] - 2 * MARGIN_PT
    lines = on_letter.typesetter.break_lines(feet(limits)[0], SMALL, width)
    assert len(lines) <= 7


def test_the_gravest_rules_stand_first() -> None:
    drop = with_limit("volume-drop", "two_percent_at_or_under", "85")
    both = with_limit("volume-drop-with-signs", "deep_percent_at_or_under", "75", drop)
    assert limit_changes(both, Words(ZONE)) == [
        "deep drop of two readings to 75 % of the usual (usual 70)",
        "drop of two readings to 85 % of the usual (usual 80)",
    ]


def test_few_changes_are_not_printed_twice() -> None:
    page = unit_page(handover(), with_limit("pulse", "pulse_at_or_over", "120"))
    assert TITLE not in [each.title for each in page.after]


@pytest.mark.parametrize("rule", list(default_limits().rules))
def test_each_limit_and_each_rule_that_may_be_off_has_its_words(rule: str) -> None:
    words, of = Words(ZONE), default_limits().rules[rule]
    for name in of.limits:
        assert "1.5" in words.say(f"limits.{rule}.{name}", value="1.5")
    assert words.has(f"limits.{rule}.off") or of.level == "escalate"
