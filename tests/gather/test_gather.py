"""Gathering logs: the latest shift is handed over, the order of the logs does not matter."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handoff.gather import gather
from handoff.judge.doubts import with_doubts
from handoff.model.findings import Finding
from handoff.model.ward import Counts, Log
from tests.support.bad_logs import (
    ALIKE,
    BAD_HANDOVERS,
    ENTRY,
    EVENING,
    EVENING_ENTRY,
    FEBRUARY,
    OTHER,
    PATIENT,
    UNIT,
    night,
    shift,
)
from tests.support.builders import default_limits
from tests.support.logs import NOW, hand_over, log_of, utc


def evening(entries: str = EVENING_ENTRY, patients: str = PATIENT) -> Log:
    return log_of(night(entries, patients, shift=EVENING), "evening.yaml")


def found_in(findings: tuple[Finding, ...]) -> list[tuple[str, int | None, str]]:
    return [(each.place.file, each.place.line, each.code) for each in findings]


# what can be wrong


@pytest.mark.parametrize("code", BAD_HANDOVERS)
def test_each_kind_of_finding_has_logs_that_trigger_it(code: str) -> None:
    bad = BAD_HANDOVERS[code]
    logs = [log_of(text, name) for name, text in bad.logs.items()]
    assert all(log.findings == () for log in logs)
    handovers, findings = gather(logs, bad.as_of, NOW)
    for handover in handovers:
        findings += tuple(with_doubts(handover, default_limits())[1])
    assert code in {each.code for each in findings}
    assert sorted(map(str, found_in(findings))) == sorted(map(str, bad.found))


# one log


def test_one_log_is_handed_over_at_its_end() -> None:
    log = log_of(night())
    handover = hand_over(log)
    assert handover.unit == log.unit
    assert handover.shift == log.shift
    assert handover.as_of == log.shift.end
    assert handover.patients == log.patients
    assert handover.entries == {"10442": log.entries}
    assert handover.stay_start == {"10442": utc("2026-03-06 14:00")}
    assert handover.shifts == (log.shift,)
    assert handover.counts == Counts(1, 1, 0)
    assert (handover.set_aside, handover.findings, handover.name_alerts) == ((), (), {})


@pytest.mark.parametrize(
    ("now", "as_of"),
    [
        ("2026-03-07 22:59", "2026-03-08 10:00"),
        ("2026-03-07 23:00", "2026-03-07 23:00"),
        ("2026-03-08 01:23", "2026-03-08 01:23"),
        ("2026-03-08 10:00", "2026-03-08 10:00"),
        ("2026-03-09 10:00", "2026-03-08 10:00"),
    ],
)
def test_while_the_shift_is_running_it_is_handed_over_as_of_now(now: str, as_of: str) -> None:
    (handover,), _ = gather([log_of(night())], None, utc(now))
    assert handover.as_of == utc(as_of)


@pytest.mark.parametrize(
    ("as_of", "expected"),
    [
        ("03:30", "2026-03-08 06:30"),
        ("2026-03-07 19:00", "2026-03-07 23:00"),
        ("2026-03-08T09:00", "2026-03-08 12:00"),
        ("2026-03-08 06:00Z", "2026-03-08 06:00"),
    ],
)
def test_as_of_is_a_local_time(as_of: str, expected: str) -> None:
    assert hand_over(log_of(night()), as_of=as_of).as_of == utc(expected)


@pytest.mark.parametrize(
    ("as_of", "code"),
    [
        ("2026-03-07 18:59", "as-of-before-shift"),
        ("soon", "not-a-time"),
        ("", "not-a-time"),
        ("2026-03-08", "date-without-time"),
        ("2026-03-08 02:30", "time-does-not-exist"),
    ],
)
def test_without_an_as_of_there_is_no_hand_over(as_of: str, code: str) -> None:
    handovers, findings = gather([log_of(night())], as_of, NOW)
    assert handovers == ()
    (found,) = findings
    assert (found.code, found.place.column, found.field) == (code, "--as-of", "as_of")


def test_an_entry_at_as_of_is_of_the_hand_over_and_one_after_it_is_not() -> None:
    log = log_of(night(ENTRY + ENTRY.replace("19:40", "19:41")))
    handover = hand_over(log, as_of="19:40")
    assert found_in(handover.findings) == [("night.yaml", 15, "after-as-of")]
    assert len(handover.entries["10442"]) == 2


def test_nothing_gives_nothing() -> None:
    assert gather([], None, NOW) == ((), ())


# patients


def test_patients_are_in_bed_order_and_names_alert_both() -> None:
    beds = ["12A", "9B", "10", "2", "", "A2", "9a"]
    patients = "".join(
        PATIENT.replace("10442", f"1{number}")
        .replace("Larkspur, Odile", f"{name}, Odile")
        .replace("12A", bed)
        for number, (bed, name) in enumerate(
            zip(
                beds,
                ["Larkspur", "Larkspurr", "Moss", "Quince", "Osei", "Mosse", "Li"],
                strict=True,
            )
        )
    )
    handover = hand_over(log_of(night("", patients)))
    assert [patient.bed for patient in handover.patients] == [
        "2",
        "9a",
        "9B",
        "10",
        "12A",
        "A2",
        "",
    ]
    assert handover.name_alerts == {"10": ("9B",), "11": ("12A",), "12": ("A2",), "15": ("10",)}


@pytest.mark.parametrize(
    ("one", "other", "are_alike"),
    [
        ("Larkspur, Odile", "Larkspur, Bryn", True),
        ("Larkspur, Odile", "Odile LARKSPUR", True),
        ("Larkspur, Odile", "Lärkspur, Ida", True),
        ("Larkspur, Odile", "Larkspurs, Ida", True),
        ("Larkspur, Odile", "Larkspor, Ida", True),
        ("O'Brien, Ida", "Bryn OBrien", True),
        ("Ida Moss", "Moss Ida", True),
        ("Larkspur, Odile", "Quince, Odile", False),
        ("Li, Ida", "Lu, Ida", False),
        ("王伟", "王芳", False),
        ("王伟", "王伟", True),
    ],
)
def test_names_that_are_alike(one: str, other: str, are_alike: bool) -> None:
    patients = PATIENT.replace("Larkspur, Odile", one) + PATIENT.replace(
        "Larkspur, Odile", other
    ).replace("10442", "10557").replace("12A", "5").replace("1958", "1961")
    handover = hand_over(log_of(night("", patients)))
    assert handover.name_alerts == ({"10442": ("5",), "10557": ("12A",)} if are_alike else {})
    assert [each.code for each in handover.findings] == ["similar-names"] * 2 * are_alike


def test_three_patients_in_one_bed() -> None:
    third = OTHER.replace("10557", "10600").replace("Quince, Ida", "Moss, Bryn")
    handover = hand_over(log_of(night(patients=PATIENT + OTHER + third.replace("12A", "12 a"))))
    assert [each.code for each in handover.findings] == ["bed-shared", "bed-shared"]


def test_the_list_that_is_handed_over_is_looked_at_and_earlier_ones_are_not() -> None:
    crowded = PATIENT + OTHER + ALIKE.replace("10557", "10600")
    assert {each.code for each in hand_over(log_of(night(patients=crowded))).findings} == {
        "bed-shared",
        "similar-names",
    }
    later = hand_over(log_of(night()), evening(patients=crowded))
    assert {each.code for each in later.findings} == {"no-longer-listed"}


def test_two_files_of_one_shift_are_one_list() -> None:
    """Neither file alone has two people in one bed, or two with similar names."""
    yours = OTHER.replace("Quince", "Larkspurr")
    handover = hand_over(log_of(night(), "a.yaml"), log_of(night("", yours), "b.yaml"))
    assert sorted(each.code for each in handover.findings) == [
        *("bed-shared", "similar-names", "similar-names")
    ]
    assert handover.name_alerts == {"10442": ("12A",), "10557": ("12A",)}


def test_a_patient_without_an_order_is_listed_and_has_no_stay() -> None:
    handover = hand_over(
        log_of(night(patients='- {id: "7", name: Ida Q, born: 1958-04-02, bed: 1}\n', entries=""))
    )
    assert [patient.id for patient in handover.patients] == ["7"]
    assert handover.stay_start == {}
    assert handover.entries == {"7": ()}


# several logs


def test_the_latest_shift_is_handed_over_and_earlier_ones_give_the_trend() -> None:
    late_order = PATIENT.replace("2026-03-06 10:00", "2026-03-07 20:00").replace("12A", "5")
    log = log_of(night(patients=late_order))
    handover = hand_over(log, evening())
    assert handover.shift == log.shift
    assert handover.patients == log.patients
    assert [entry.place.file for entry in handover.entries["10442"]] == [
        "evening.yaml",
        "night.yaml",
    ]
    assert handover.stay_start == {"10442": utc("2026-03-06 14:00")}
    assert [each.start for each in handover.shifts] == [
        utc("2026-03-07 11:00"),
        utc("2026-03-07 23:00"),
    ]
    assert handover.counts == Counts(2, 2, 0)
    assert handover.findings == ()


def test_an_order_a_week_after_the_last_shift_with_one_may_be_of_the_same_stay() -> None:
    before = shift("2026-02-27 07:00", "2026-02-27 10:00")
    february = log_of(night("", FEBRUARY, shift=before), "february.yaml")
    assert hand_over(log_of(night()), february).findings == ()


def test_a_fact_is_not_carried_over_from_an_earlier_log() -> None:
    told = evening(patients=PATIENT + "  reason: open bowel surgery\n  sex: female\n")
    (patient,) = hand_over(log_of(night()), told).patients
    assert (patient.reason, patient.sex) == (None, None)


def test_a_patient_of_earlier_logs_alone_is_no_longer_on_the_list() -> None:
    both = evening(
        EVENING_ENTRY + EVENING_ENTRY.replace("10442", "10557"), PATIENT + OTHER.replace("12A", "5")
    )
    handover = hand_over(log_of(night()), both)
    assert [patient.id for patient in handover.patients] == ["10442"]
    assert [patient.id for patient in handover.gone] == ["10557"]
    assert set(handover.entries) == {"10442", "10557"}
    assert found_in(handover.findings) == [("evening.yaml", 13, "no-longer-listed")]
    assert handover.counts == Counts(3, 3, 0)


def test_the_person_of_the_latest_log_holds_and_the_other_is_set_aside() -> None:
    other_born = PATIENT.replace("1958-04-02", "1985-04-02").replace("2026-03-06", "2026-03-01")
    handover = hand_over(log_of(night()), evening(patients=other_born))
    assert [entry.place.file for entry in handover.entries["10442"]] == ["night.yaml"]
    assert handover.stay_start == {"10442": utc("2026-03-06 14:00")}
    (row,) = handover.set_aside
    assert (row.reason.code, row.patient_id) == ("identity-disagrees", "10442")
    assert row.raw["breaths"] == "8"
    assert handover.counts == Counts(2, 1, 1)


def test_what_an_earlier_log_does_not_say_does_not_disagree() -> None:
    nameless = evening(patients=PATIENT.replace("  born: 1958-04-02\n", ""))
    assert len(hand_over(log_of(night()), nameless).entries["10442"]) == 2


def test_an_entry_in_two_files_counts_once() -> None:
    at_seven = '- {patient: "10442", at: 2026-03-07 19:00, breaths: 8}\n'
    handover = hand_over(log_of(night(at_seven)), evening(at_seven))
    assert [entry.place.file for entry in handover.entries["10442"]] == ["evening.yaml"]
    assert [row.place.file for row in handover.set_aside] == ["night.yaml"]
    assert ("night.yaml", 14, "repeated-entry") in found_in(handover.findings)
    assert handover.counts == Counts(2, 1, 1)


def test_different_entries_at_one_minute_in_two_files_are_both_used() -> None:
    at_seven = '- {patient: "10442", at: 2026-03-07 19:00, breaths: 8}\n'
    handover = hand_over(log_of(night(at_seven.replace("8", "9"))), evening(at_seven))
    assert len(handover.entries["10442"]) == 2
    assert [each.code for each in handover.findings].count("same-minute") == 1


def test_a_repeat_within_a_log_is_reported_once() -> None:
    handover = hand_over(log_of(night(ENTRY + ENTRY + ENTRY.replace("8", "9"))), evening())
    codes = [each.code for each in handover.findings]
    assert (codes.count("repeated-entry"), codes.count("same-minute")) == (1, 1)


# logs of the same shift


def test_two_files_of_one_shift_are_one_shift() -> None:
    mine = log_of(night(), "a.yaml")
    yours = log_of(night(ENTRY.replace("10442", "10557"), OTHER.replace("12A", "5")), "b.yaml")
    handover = hand_over(mine, yours)
    assert [patient.id for patient in handover.patients] == ["10557", "10442"]
    assert handover.shifts == (mine.shift,)
    assert handover.findings == ()


def test_two_files_of_one_shift_put_together_what_they_say_of_a_patient() -> None:
    mine = log_of(night(patients=PATIENT + "  sex: female\n"), "a.yaml")
    goal = PATIENT.replace("breaths: 10", "goal_ml: 1500, hold_s: 3")
    yours = log_of(
        night("", goal + "  baseline_ml: 1900\n", unit=UNIT + "  phone: ext. 1\n"), "b.yaml"
    )
    handover = hand_over(mine, yours)
    (patient,) = handover.patients
    assert (patient.sex, patient.baseline_ml) == ("female", 1900)
    assert patient.order is not None
    assert (patient.order.goal_ml, patient.order.hold_s) == (1500, 3)
    assert handover.findings == ()
    assert handover.unit.phone == "ext. 1"


def test_precautions_of_two_files_of_one_shift_are_put_together_or_asked_about() -> None:
    flat = log_of(night(patients=PATIENT + "  precautions: lies flat\n"), "a.yaml")
    silent = log_of(night(""), "b.yaml")
    other = log_of(night("", PATIENT + "  precautions: lies on the left\n"), "c.yaml")
    assert [each.precautions for each in hand_over(silent, flat).patients] == ["lies flat"]
    handover = hand_over(flat, other)
    assert [each.precautions for each in handover.patients] == ["lies flat / lies on the left"]
    assert [(each.code, each.field) for each in handover.findings] == [
        ("logs-disagree", "precautions")
    ]


def test_of_logs_of_one_shift_that_say_two_starts_of_the_order_both_are_periods() -> None:
    mine = log_of(night(), "a.yaml")
    silent = log_of(night("", PATIENT.partition("  order")[0]), "b.yaml")
    other = log_of(night("", PATIENT.replace("2026-03-06 10:00", "2026-03-07 20:00")), "c.yaml")
    both = hand_over(mine, other)
    (patient,) = both.patients
    starts = [each.start.astimezone(both.unit.time_zone).hour for each in patient.orders]
    assert starts == [10, 20]
    assert [(each.code, each.place.file) for each in both.findings] == [("new-order", "c.yaml")]
    (patient,) = hand_over(mine, silent).patients
    assert patient.order is not None
    assert (patient.unread, patient.order_lacks_start) == ((), False)


# holds, over all logs


def row(at: str, what: str, more: str = "") -> str:
    return f'- {{patient: "10442", at: {at}, what: {what}, note: Dr Quill{more}}}\n'


@pytest.mark.parametrize(
    ("in_evening", "in_night", "found"),
    [
        (row("09:00", "hold"), row("20:00", "resume"), []),
        ("", row("20:00", "hold") + row("21:00", "resume"), []),
        (row("09:00", "hold"), row("20:00", "hold"), [("night.yaml", 14, "two-holds")]),
        (row("09:00", "hold", ", until: 2026-03-07 20:00"), row("20:00", "hold"), []),
        (
            row("09:00", "hold", ", until: 2026-03-07 20:01"),
            row("20:00", "hold"),
            [("night.yaml", 14, "two-holds")],
        ),
        (row("09:00", "hold") + row("10:00", "resume"), row("20:00", "hold"), []),
        # of rows in no order, and of two in one minute
        (row("10:00", "resume") + row("09:00", "hold"), row("20:00", "hold"), []),
        (row("09:00", "hold"), row("20:00", "hold") + row("20:00", "resume"), []),
        ("", row("20:00", "resume"), [("night.yaml", 14, "resume-without-hold")]),
        (
            row("09:00", "hold", ", until: 10:00"),
            row("20:00", "resume"),
            [("night.yaml", 14, "resume-without-hold")],
        ),
        # one resume ends them all
        (
            row("09:00", "hold") + row("10:00", "hold"),
            row("20:00", "resume") + row("21:00", "resume"),
            [("evening.yaml", 15, "two-holds"), ("night.yaml", 15, "resume-without-hold")],
        ),
    ],
)
def test_holds_that_do_not_fit_each_other_are_asked_about(
    in_evening: str, in_night: str, found: list[tuple[str, int, str]]
) -> None:
    handover = hand_over(log_of(night(in_night)), evening(in_evening))
    others = [each for each in found_in(handover.findings) if each[2] != "same-minute"]
    assert others == found
    assert handover.set_aside == ()


def test_the_hold_of_another_patient_is_no_hold() -> None:
    of_other = row("20:00", "hold").replace("10442", "10557")
    patients = PATIENT + OTHER.replace("12A", "5")
    handover = hand_over(log_of(night(of_other + row("21:00", "resume"), patients)))
    assert found_in(handover.findings) == [("night.yaml", 20, "resume-without-hold")]


def test_two_files_of_one_shift_with_two_people_under_one_id() -> None:
    mine = log_of(night(), "a.yaml")
    yours = log_of(night(patients=PATIENT.replace("1958", "1985")), "b.yaml")
    handover = hand_over(mine, yours, evening())
    assert handover.patients == ()
    assert [row.reason.code for row in handover.set_aside] == ["identity-in-doubt"] * 2
    assert handover.counts == Counts(3, 1, 2)


def test_of_shifts_that_overlap_the_one_that_starts_last_is_handed_over() -> None:
    long = log_of(night(shift=shift("2026-03-07 18:00", "2026-03-08 08:00")), "long.yaml")
    handover = hand_over(log_of(night("")), long)
    assert handover.shift.start == utc("2026-03-07 23:00")
    assert [each.code for each in handover.findings] == ["shifts-overlap"]
    assert [entry.place.file for entry in handover.entries["10442"]] == ["long.yaml"]
    after = log_of(night(shift=shift("2026-03-07 07:00", "2026-03-07 19:00")), "after.yaml")
    found = hand_over(log_of(night("")), after).findings
    assert "shifts-overlap" not in {each.code for each in found}


# several units and zones


def test_each_unit_is_handed_over_by_name() -> None:
    west = log_of(night(unit=UNIT.replace("East", "West")), "west.yaml")
    east = log_of(night(unit=UNIT.replace("Harbour 3 East", "harbour  3 EAST")), "east.yaml")
    handovers, findings = gather([west, east, evening()], None, NOW)
    assert [each.unit.name for each in handovers] == ["harbour 3 EAST", "Harbour 3 West"]
    assert [each.counts.read for each in handovers] == [2, 1]
    assert [each.code for each in findings] == ["on-two-units", "on-two-units"]
    assert [each.elsewhere for each in handovers] == [
        {"10442": ("Harbour 3 West",)},
        {"10442": ("harbour 3 EAST",)},
    ]


def test_another_person_of_the_same_id_is_not_on_two_units() -> None:
    other = PATIENT.replace("1958-04-02", "1985-04-02")
    west = log_of(night(patients=other, unit=UNIT.replace("East", "West")), "west.yaml")
    handovers, findings = gather([log_of(night()), west], None, NOW)
    assert [each.elsewhere for each in handovers] == [{}, {}]
    assert findings == ()


def test_an_as_of_before_one_units_shift_is_no_matter_to_the_other() -> None:
    west = log_of(
        night(EVENING_ENTRY, unit=UNIT.replace("East", "West"), shift=EVENING), "west.yaml"
    )
    handovers, findings = gather([west, log_of(night())], "2026-03-07 18:00", NOW)
    assert [each.unit.name for each in handovers] == ["Harbour 3 West"]
    assert [each.code for each in findings] == ["as-of-before-shift"]


def test_a_log_in_another_time_zone_takes_no_part() -> None:
    bad = BAD_HANDOVERS["other-time-zone"]
    logs = [log_of(text, name) for name, text in bad.logs.items()]
    handover = hand_over(*logs)
    assert [entry.place.file for entry in handover.entries["10442"]] == ["night.yaml"]
    assert handover.counts == Counts(2, 1, 1)


def test_two_names_of_one_clock_are_no_matter() -> None:
    same_clock = UNIT.replace("America/Halifax", "Atlantic/Bermuda")
    other = log_of(night(EVENING_ENTRY, unit=same_clock, shift=EVENING), "evening.yaml")
    handover = hand_over(log_of(night()), other)
    assert handover.findings == ()
    assert len(handover.entries["10442"]) == 2


# laws


# Logs that disagree in every way that gathering must settle.
PILE = [
    log_of(night(ENTRY + ENTRY.replace("8", "9")), "a.yaml"),
    log_of(night(ENTRY, PATIENT.replace("12A", "5") + OTHER), "b.yaml"),
    log_of(night(ENTRY, unit=UNIT + "  quiet_hours: none\n"), "c.yaml"),
    log_of(night(EVENING_ENTRY, shift=EVENING), "d.yaml"),
    log_of(night(EVENING_ENTRY, PATIENT.replace("1958", "1985"), shift=EVENING), "e.yaml"),
    log_of(night(ENTRY, shift=shift("2026-03-07 12:00", "2026-03-08 00:00")), "f.yaml"),
    log_of(
        night(unit=UNIT.replace("Halifax", "Toronto"), shift=EVENING, entries=EVENING_ENTRY),
        "g.yaml",
    ),
    log_of(night(unit=UNIT.replace("East", "West")), "h.yaml"),
]


@settings(max_examples=60, deadline=None)
@given(st.permutations(range(8)))
def test_the_order_of_the_logs_does_not_matter(order: list[int]) -> None:
    assert gather([PILE[index] for index in order], None, NOW) == gather(PILE, None, NOW)


@settings(max_examples=60, deadline=None)
@given(st.sets(st.integers(0, 7), min_size=1), st.sampled_from([None, "19:40", "2026-03-08 09:00"]))
def test_no_record_is_lost_between_logs(chosen: set[int], as_of: str | None) -> None:
    logs = [PILE[index] for index in sorted(chosen)]
    handovers, findings = gather(logs, as_of, NOW)
    assert handovers or findings
    if as_of is None:
        counts = sum((each.counts for each in handovers), Counts(0, 0, 0))
        assert counts.read == sum(log.counts.read for log in logs) == counts.used + counts.set_aside
    for handover in handovers:
        assert handover.counts.set_aside == len(handover.set_aside)
        assert all(row.reason in handover.findings for row in handover.set_aside)
        for entries in handover.entries.values():
            assert list(entries) == sorted(entries, key=lambda entry: entry.at)
    assert {found for log in logs for found in log.findings} <= set(findings)


def test_of_patients_long_gone_only_the_count_is_said_and_those_of_the_last_week_are_named() -> (
    None
):
    gone = "".join(
        PATIENT.replace("10442", str(number)).replace("12A", f"B{number}") for number in (1, 2, 3)
    )
    old = shift("2026-02-20 07:00", "2026-02-20 19:00")
    week = shift("2026-03-01 07:00", "2026-03-01 19:00")
    logs = [
        log_of(night("", gone, shift=old), "old.yaml"),
        log_of(night("", PATIENT, shift=week), "week.yaml"),
        log_of(night(patients=OTHER, entries=ENTRY.replace("10442", "10557")), "night.yaml"),
    ]
    found = [each for each in hand_over(*logs).findings if "list" in each.message]
    found.sort(key=lambda each: each.place.file, reverse=True)
    assert [(each.code, each.place.file) for each in found] == [
        ("no-longer-listed", "week.yaml"),
        ("long-gone", "night.yaml"),
    ]
    assert "3 patients of earlier logs" in found[1].message
