"""All rules together: order, priority, what was told, rules switched off, rows set aside."""

import pytest
from msgspec.structs import replace

from handoff.judge import BY_NAME, RULES, signs
from handoff.judge.unreadable import READ_ALONE
from handoff.model.findings import Place
from handoff.model.verdicts import Level, Told
from handoff.model.ward import Entry, Handover, Listing, SetAside, Shift
from tests.support.builders import (
    SHIFT,
    SHIFT_BEFORE,
    UNIT,
    at,
    default_limits,
    entry,
    found,
    handover,
    judged,
    order,
    patient,
    set_aside,
    verdict,
    with_limit,
    without_rules,
)


def test_rules_and_limits_name_the_same_rules_in_the_same_order() -> None:
    assert [rule.name for rule in RULES] == list(default_limits().rules)


def test_every_level_is_one_that_verdicts_know() -> None:
    rules = default_limits().rules.values()
    for level in {rule.level for rule in rules} | {rule.milder_level or "note" for rule in rules}:
        assert level in list(Level)


def test_a_graver_rule_is_as_grave_at_least_and_the_gravest_comes_last() -> None:
    rules, levels, limits = list(BY_NAME), list(Level), default_limits()
    pairs = [(rule.name, milder) for rule in RULES for milder in rule.replaces]
    assert pairs == [
        ("dizziness-again", "dizziness"),
        ("dizziness-with-signs", "dizziness"),
        ("dizziness-with-signs", "dizziness-again"),
        ("breathless-again", "breathless"),
        ("volume-drop-with-signs", "volume-drop"),
        ("not-started", "not-charted"),
        ("not-started", "not-taught"),
        ("not-started", "not-labelled"),
        ("not-seen", "nothing-charted"),
        ("pain-again", "pain-limits"),
    ]
    for graver, milder in pairs:
        of_milder = [each for each, replaced in pairs if replaced == milder]
        assert of_milder == sorted(of_milder, key=rules.index)
        level, milder_level = Level(limits.level(graver)), Level(limits.level(milder))
        assert levels.index(level) <= levels.index(milder_level)


def test_what_is_read_in_a_row_alone_are_escalations() -> None:
    assert {default_limits().level(rule) for rule in READ_ALONE} == {"escalate"}


def test_every_verdict_is_given_in_the_rules_order_at_its_level() -> None:
    given = judged(handover(entry("08:00")))
    assert [each.rule for each in given.all] == list(BY_NAME)
    limits = default_limits()
    assert [each.level for each in given.all] == [limits.level(rule) for rule in BY_NAME]


def test_a_verdict_that_is_undecided_says_why_and_no_other_does() -> None:
    for given in (judged(handover()), judged(handover(entry("08:00", "dizzy", spo2=80)))):
        for each in given.all:
            assert (each.why is not None) == (each.state == "undecided")


def test_a_verdict_that_is_met_names_source_and_rows_and_no_other_does() -> None:
    given = judged(handover(entry("08:00", "dizzy", spo2=80)))
    for each in given.all:
        assert bool(each.source) == bool(each.entries) == (each.state == "met")


@pytest.mark.parametrize(
    ("symptoms", "spo2", "priority"),
    [("", 97, "continue"), ("dizzy", 97, "follow_up"), ("dizzy", 91, "escalate")],
)
def test_priority_is_the_gravest_level(symptoms: str, spo2: int, priority: str) -> None:
    hours = [entry(f"{hour:02}:00") for hour in range(8, 19)]
    given = judged(handover(entry("07:00", symptoms, spo2=spo2), *hours))
    assert given.priority == priority


def test_cautions_come_most_urgent_first() -> None:
    rows = (entry("08:00", "wheeze confused", temp_c=38.5, flow="blew"), entry("09:00", spo2=90))
    levels = [each.level for each in judged(handover(*rows)).cautions]
    assert levels == sorted(levels, key=list(Level).index)
    assert levels[0] == "escalate"


@pytest.mark.parametrize(
    ("told_at", "answered"), [("08:59", False), ("09:00", True), ("18:59", True)]
)
def test_told_answers_from_the_last_row_that_met_it_on(
    told_at: str,
    answered: bool,
) -> None:
    rows = (
        entry("08:00", spo2=90),
        entry("09:00", spo2=85),
        entry("12:00", spo2=96),
        entry(told_at, what="told", note="Dr T. Quill, SpO2 85 %", about=("oxygen",)),
    )
    given = verdict("low-oxygen", handover(*rows))
    told = Told(at(told_at), "Dr T. Quill, SpO2 85 %", Place("day.yaml", 4))
    assert given.told == ((told,) if answered else ())
    assert (given.level, given.state) == ("escalate", "met")


def told_row(clock: str, about: str = "all", note: str | None = "Dr T. Quill") -> Entry:
    return entry(clock, what="told", note=note, about=tuple(about.split()))


def test_every_later_told_entry_is_kept_earliest_first() -> None:
    rows = (
        told_row("11:00", note="second"),
        told_row("10:00", note="first"),
        told_row("12:00", note=None),  # says nothing
        entry("09:00", "faint"),
    )
    told = verdict("faint-or-chest-pain", handover(*rows)).told
    assert [(each.at, each.note) for each in told] == [
        (at("10:00"), "first"),
        (at("11:00"), "second"),
    ]


def test_told_answers_only_what_it_stands_after() -> None:
    rows = (entry("09:00", "faint"), told_row("10:00"), entry("11:00", spo2=80))
    given = handover(*rows)
    assert verdict("faint-or-chest-pain", given).told != ()
    assert verdict("low-oxygen", given).told == ()


@pytest.mark.parametrize(
    ("about", "answered"),
    [
        ("faint", True),
        ("pulse faint", True),
        ("all", True),
        ("pulse", False),
        ("other", False),
        ("", False),
    ],
)
def test_told_answers_only_what_it_is_about(about: str, answered: bool) -> None:
    rows = (entry("09:00", "faint"), told_row("10:00", about))
    assert bool(verdict("faint-or-chest-pain", handover(*rows)).told) is answered


def test_told_after_as_of_or_in_another_shift_answers_nothing() -> None:
    rows = (entry("09:00", "faint"), told_row("11:00"), told_row("+1 08:00"))
    assert verdict("faint-or-chest-pain", handover(*rows, as_of="10:00")).told == ()


def test_a_follow_up_that_was_told_keeps_its_level_and_is_told() -> None:
    rows = (entry("09:00", "dizzy wheeze"), told_row("10:00", "wheeze"))
    given = {each.rule: each for each in judged(handover(*rows)).cautions}
    assert given["breathless"].told != ()
    assert given["breathless"].level == "follow_up"
    assert given["dizziness"].told == ()


def test_a_fever_that_was_told_within_a_day_goes_on_unless_it_is_half_a_degree_higher() -> None:
    order_before = (patient(order=order("-1 07:00")),)
    told = told_row("-1 19:40", "temperature")
    for temp_c, goes_on in ((38.4, True), (38.5, True), (38.6, False)):
        rows = (entry("-1 19:30", temp_c=38.1), told, entry("09:00", temp_c=temp_c))
        given = verdict("fever", handover(*rows, patients=order_before))
        assert bool(given.told) is goes_on, temp_c
    for told_at, goes_on in (("-1 09:00", True), ("-1 08:59", False)):
        rows = (
            entry("-1 08:30", temp_c=38.1),
            told_row(told_at, "temperature"),
            entry("09:00", temp_c=38.1),
        )
        given = verdict("fever", handover(*rows, patients=order_before))
        assert bool(given.told) is goes_on, told_at


@pytest.mark.parametrize(
    ("faint_at", "rows_since", "eased"),
    [("-1 19:00", 3, "not_asked"), ("-1 19:01", 3, None), ("-1 19:00", 2, None)],
)
def test_a_symptom_that_was_told_is_followed_up_after_a_day_and_three_rows(
    faint_at: str, rows_since: int, eased: str | None
) -> None:
    since = [entry(f"{hour:02}:00", spo2=97) for hour in range(9, 9 + rows_since)]
    rows = (entry(faint_at, "faint"), told_row("-1 19:30", "faint"), *since)
    given = handover(*rows, patients=(patient(order=order("-1 07:00")),))
    (matter,) = judged(given).matters
    assert (matter.state, matter.eased) == ("told", eased)
    assert matter.level == ("follow_up" if eased else "escalate")


def test_told_stands_after_the_signs_of_a_combined_escalation_too() -> None:
    rows = (entry("09:00", "dizzy"), told_row("09:20"), entry("09:40", pulse=140))
    assert verdict("dizziness-with-signs", handover(*rows)).told == ()
    late = told_row("09:40")
    assert len(verdict("dizziness-with-signs", handover(*rows, late)).told) == 1


def test_a_rule_switched_off_gives_no_verdict_and_no_priority() -> None:
    given = handover(*(entry(f"{hour:02}:00", flow="blew") for hour in range(7, 19)))
    assert judged(given).priority == "follow_up"
    off = judged(given, without_rules("technique", "low-adherence"))
    assert "technique" not in [each.rule for each in off.all]
    assert off.priority == "continue"


def test_a_sign_whose_rule_is_switched_off_still_counts_beside_others() -> None:
    rows = entry("-1 20:00", volume_ml=1500), entry("09:00", "wheeze", volume_ml=1000)
    given = judged(handover(*rows, stay_start="-1 12:00"), without_rules("breathless"))
    assert given.cautions[0].rule == "volume-drop-with-signs"


def test_a_units_limit_changes_the_priority() -> None:
    given = handover(*(entry(f"{hour:02}:00", resp_rate=22) for hour in range(7, 19)))
    assert judged(given).priority == "continue"
    unit = with_limit("breathing-rate", "resp_rate_at_or_over", "22")
    assert judged(given, unit).priority == "escalate"


@pytest.mark.parametrize(
    ("row", "reads", "rule"),
    [
        (set_aside(spo2=84), "SpO2 84 %", "low-oxygen"),
        (set_aside(resp_rate=7), "breathing rate 7 /min", "breathing-rate"),
        (set_aside(pulse=131), "pulse 131 /min", "pulse"),
        (set_aside(temp_c=34.5), "temperature 34.5 °C", "low-temperature"),
        (set_aside(None, "faint"), "faint", "faint-or-chest-pain"),
        (set_aside(None, "chest_pain faint"), "faint", "faint-or-chest-pain"),
        (set_aside(None, "confused"), "confused", "drowsy-or-confused"),
    ],
)
def test_a_row_set_aside_that_would_escalate_is_named(row: SetAside, reads: str, rule: str) -> None:
    given = judged(handover(set_aside=(row,)))
    (sign, *_) = found(verdict("sign-unreadable", handover(set_aside=(row,))))["unsure"]
    assert (sign.place, sign.rule, signs.reads(rule, sign.seen)) == (row.place, rule, reads)
    assert {(each.rule, str(each.level)) for each in given.matters} == {
        ("sign-unreadable", "escalate")
    }


@pytest.mark.parametrize(
    "row",
    [
        set_aside(spo2=92, resp_rate=16, pulse=130, temp_c=39.0),
        set_aside(None, "dizzy wheeze cough"),
        set_aside(spo2=80, patient_id="99"),
        set_aside(None, "faint", patient_id=None),
    ],
)
def test_a_row_set_aside_without_an_escalation_or_of_another_is_not(row: SetAside) -> None:
    assert not is_unsure(handover(set_aside=(row,)))


def test_a_row_set_aside_is_held_against_the_order() -> None:
    given = handover(
        patients=(patient(order=order(spo2_min=88)),),
        set_aside=(set_aside(spo2=89), set_aside(spo2=87, line=901)),
    )
    unsure = found(verdict("sign-unreadable", given))["unsure"]
    assert [(each.rule, each.seen) for each in unsure] == [("low-oxygen", 87)]


def is_unsure(given: Handover) -> bool:
    """Whether a sign of a row set aside may be a danger of the stay."""
    return "sign-unreadable" in {each.rule for each in judged(given).matters}


@pytest.mark.parametrize(
    ("clock", "named"),
    [
        ("07:00", True),
        ("10:00", True),
        ("10:01", False),  # after `as_of`
        ("-1 22:00", True),  # of an earlier shift of the stay
        ("-1 19:00", True),
        ("-2 19:00", True),  # of the day before the stay
        ("-2 18:59", False),  # of a stay before
        ("-2 07:00", False),
        ("19:00", True),  # of no given shift: it may be a slip
        ("2025-05-12 09:00", True),
        ("+1 09:00", True),
        (None, True),
    ],
)
def test_a_row_set_aside_is_left_out_where_it_is_of_a_stay_before_or_after_as_of(
    clock: str | None,
    named: bool,
) -> None:
    assert at("10:00") < SHIFT.end
    days = [Shift(at(f"-{day} 07:00"), at(f"-{day} 19:00")) for day in (2, 1)]
    nights = [Shift(at("-2 19:00"), at("-1 07:00")), SHIFT_BEFORE]
    shifts = (days[0], nights[0], days[1], nights[1], SHIFT)
    given = handover(
        *(entry(f"{hour:02}:00") for hour in range(7, 11)),
        set_aside=(set_aside(clock, "faint"),),
        as_of="10:00",
    )
    listings = tuple(Listing(UNIT.name, each, given.patients[0]) for each in shifts[3:])
    given = replace(given, shifts=shifts, listings={"10442": listings})
    assert is_unsure(given) is named
    assert judged(given).priority == ("escalate" if named else "continue")


def test_of_the_order_and_the_first_shift_the_earlier_counts_for_a_row_set_aside() -> None:
    shifts = (Shift(at("-2 19:00"), at("-1 07:00")), SHIFT_BEFORE, SHIFT)
    for start, named in (("-1 22:00", True), ("08:00", False)):
        listed = (patient(order=order(start)),)
        given = handover(patients=listed, set_aside=(set_aside("-1 06:00", "faint"),))
        first = (Listing(UNIT.name, SHIFT, listed[0]),)
        given = replace(given, shifts=shifts, listings={"10442": first})
        assert is_unsure(given) is named


def test_a_repeat_of_a_row_is_no_second_danger() -> None:
    row = set_aside("-1 22:00", "faint")
    repeat = replace(row, reason=replace(row.reason, code="repeated-entry"))
    assert is_unsure(handover(set_aside=(row,)))
    assert not is_unsure(handover(set_aside=(repeat,)))


def test_a_danger_in_a_row_set_aside_escalates_and_holds_the_exercise_back() -> None:
    hours = [entry(f"{hour:02}:00") for hour in range(7, 19)]
    quiet = judged(handover(*hours, set_aside=(set_aside("08:00", pulse=80),)))
    assert (quiet.priority, quiet.holds_back) == ("continue", False)
    danger = judged(handover(*hours, set_aside=(set_aside("08:00", pulse=140),)))
    assert (danger.priority, danger.holds_back) == ("escalate", True)
