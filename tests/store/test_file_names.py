"""File names: safe, distinct, and nothing of a patient."""

from hypothesis import given
from hypothesis import strategies as st

from handoff.store.file_names import distinct_names


def test_a_plain_bed_keeps_its_name() -> None:
    assert distinct_names("bed-", ["12A", "3"]) == ["bed-12A", "bed-3"]


def test_what_a_file_system_minds_becomes_a_dash() -> None:
    assert distinct_names("bed-", ["../etc/passwd", "C:\\3", "bay 2/4"]) == [
        "bed-etc-passwd",
        "bed-C-3",
        "bed-bay-2-4",
    ]


def test_names_that_clash_get_a_number_also_when_only_the_case_differs() -> None:
    assert distinct_names("bed-", ["12a", "12A", "12 A"]) == ["bed-12a", "bed-12A-2", "bed-12-A"]


def test_a_name_without_a_letter_has_a_name_still() -> None:
    assert distinct_names("bed-", ["", "???", "\x00"]) == [
        "bed-unnamed",
        "bed-unnamed-2",
        "bed-unnamed-3",
    ]


def test_the_name_of_a_device_gets_a_number() -> None:
    assert distinct_names("", ["CON", "nul", "Com1", "control"]) == [
        *("CON-2", "nul-2", "Com1-2", "control"),
    ]


@given(st.lists(st.text()))
def test_any_names_are_distinct_and_safe(names: list[str]) -> None:
    distinct = distinct_names("bed-", names)
    assert len({name.casefold() for name in distinct}) == len(names)
    assert all(name.replace("-", "").isalnum() and name.isascii() for name in distinct)
