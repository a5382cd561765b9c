"""A plugin of pytest for `tests/windows/run.py`: what is not tried, each with its reason.

Tests write their logs as on other systems, with `\n`: what Windows makes of a line break is tried
by tests of their own.
"""

import sys
from collections.abc import Sequence
from functools import partialmethod
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

Path.write_text = partialmethod(Path.write_text, newline="\n")  # type: ignore[assignment, method-assign]


class NotThere(ModuleType):
    """A library that Wine cannot load; a test that calls it is skipped."""

    def __getattr__(self, name: str) -> object:
        if name.startswith("__"):
            raise AttributeError(name)
        return lambda *_, **__: pytest.skip(f"Wine does not load {self.__name__}")


# They judge what is printed and sent, and have parts that need a newer Windows than Wine is.
for library in ("page", "fhirkit", "jsonschema"):
    try:
        import_module(library)
    except ImportError:
        sys.modules[library] = NotThere(library)

POSIX = "what it tries is only on POSIX systems: "
# Whole files, by their names; they import what is not there.
FILES = {
    "tests/portable/test_windows.py": POSIX + "flock in the place of Windows's lock",
    "tests/test_unbreakable.py": POSIX + "fork, SIGKILL, limits of a process",
    "tests/desk/test_browser.py": "there is no browser of Windows here",
    "tests/desk/test_browser_round.py": "there is no browser of Windows here",
    "tests/fhir/test_real_server.py": "there is no Node of Windows here",
}
RIGHTS = "on Windows rights are lists that a folder hands down, and not bits of a mode"
LINKS = "Wine makes no links"
NO_LONG_NAME = "on Windows there is no file of a name that is too long, and it says so"
CLUSTER = "Dask waits without end for Wine's two clocks to agree"
# Tests, by how their names begin.
TESTS = {
    "tests/store/test_folder.py::test_is_readable_by_the_owner_only": RIGHTS,
    "tests/store/test_folder.py::test_follows_a_link": LINKS,
    "tests/store/test_private.py::test_every_file_and_folder_is_its_owners_only": RIGHTS,
    "tests/desk/test_serve.py::test_the_whole_output": POSIX + "Ctrl-C from another process",
    "tests/check/test_check.py::test_each_kind_of_finding_has_a_log_that_triggers_it_and_reads_well"
    "[cannot-read]": NO_LONG_NAME,
    "tests/test_finding_codes.py::test_the_command_prints_every_code_with_its": NO_LONG_NAME,
    "tests/run/test_bounds.py::test_what_is_in_its_bounds_is_left_alone": POSIX + "SIGALRM",
    "tests/compose/test_blank.py::test_files_are_the_owners_alone": RIGHTS,
    "tests/fhir/test_get.py::test_only_their_owner": RIGHTS,
    "tests/fhir/test_write_command.py::test_a_file_that_is_there_is_never_replaced[link": LINKS,
    "tests/desk/test_logbook.py::test_a_writer_killed_at_any_moment": POSIX + "SIGKILL",
    "tests/desk/test_logbook.py::test_a_changed_log_keeps_its_rights": RIGHTS,
    "tests/desk/test_logbook.py::test_a_log_that_is_set_read_only": RIGHTS,
    "tests/desk/test_logbook.py::test_a_new_file_is_its_owners": RIGHTS,
    "tests/desk/test_logbook.py::test_everything_written_is_flushed": "a folder cannot be flushed",
    "tests/desk/test_alone.py::test_a_second_start": RIGHTS + "; documents are not a variable's",
    "tests/run/test_own_state.py::test_so_does_a_worker": CLUSTER,
    "tests/run/test_workers.py::test_a_cluster_makes": CLUSTER,
    "tests/run/test_workers.py::test_a_cluster_that_does_not_answer": CLUSTER,
    "tests/run/test_workers.py::test_a_worker_of_a_cluster": CLUSTER,
    "tests/run/test_workers.py::test_a_worker_of_a_pool": POSIX + "SIGKILL",
    "tests/run/test_workers.py::test_a_pool_that_loses": POSIX + "SIGKILL",
}


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave out the files that cannot be imported."""
    name = collection_path.relative_to(config.rootpath).as_posix()
    return True if name in FILES else None


def pytest_collection_modifyitems(items: Sequence[pytest.Item]) -> None:
    """Skip the tests that are named, with their reasons."""
    for item in items:
        for name, reason in TESTS.items():
            if item.nodeid.startswith(name):
                item.add_marker(pytest.mark.skip(reason=reason))


def pytest_report_header() -> list[str]:
    """The files that are left out."""
    return [f"left out: {name}: {reason}" for name, reason in FILES.items()]
