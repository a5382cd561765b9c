"""What all tests share: hypothesis without a deadline, since the machines of its users differ."""

import os
from collections.abc import Iterator
from functools import cache

import pytest
from hypothesis import HealthCheck, settings

from handoff.cli import arguments
from handoff.compose import words
from handoff.fhir import codes
from handoff.model.wording import shipped_templates

USUAL = {
    "deadline": None,  # the machines of its users differ
    "suppress_health_check": [HealthCheck.too_slow, HealthCheck.data_too_large],
}
settings.register_profile("handoff", derandomize=True, **USUAL)  # type: ignore[arg-type]
settings.register_profile("more", derandomize=True, max_examples=300, **USUAL)  # type: ignore[arg-type]
settings.register_profile("few", derandomize=True, max_examples=5, **USUAL)  # type: ignore[arg-type]
settings.register_profile("explore", max_examples=2000, **USUAL)  # type: ignore[arg-type]
settings.load_profile("handoff")


@pytest.fixture(scope="session", autouse=True)
def _what_never_changes_is_made_once() -> Iterator[None]:
    """The shipped words and codes and the parser of the command line: once for all tests of a
    process, in which the program runs many times. A unit's own words are read at each use.
    """
    read, folder = words.flatten, shipped_templates()
    once = cache(read)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            words, "flatten", lambda path: (once if path.is_relative_to(folder) else read)(path)
        )
        patch.setattr(codes, "_default_codes", cache(codes._default_codes))
        patch.setattr(arguments, "_parser", cache(arguments._parser))
        yield


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are processors: some tests wait for a browser or for what they killed."""
    return (os.cpu_count() or 1) + 1


def pytest_addoption(parser: pytest.Parser) -> None:
    """How much the tests do that can do ever more: a little in every run, the rest in `.ci/run`."""
    for name, default, what in (
        ("pages", 24, "random sheets to print"),
        ("kills", 10, "runs to kill"),
        ("wards", 2, "random wards to print"),
        ("mutations", 400, "mangled logs to read"),
    ):
        parser.addoption(f"--{name}", type=int, default=default, help=f"{what} ({default})")
    parser.addoption("--long", action="store_true", help="also the tests marked as long")


def pytest_make_parametrize_id(val: object, argname: str) -> str | None:
    """A long text is no name for a test: pytest keeps that in a variable of the environment, which
    has room for 32,767 letters on Windows.
    """
    return argname if isinstance(val, str | bytes) and len(val) > 200 else None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the long tests out, unless they are asked for as in `.ci/run`."""
    if not config.getoption("--long"):
        items[:] = [each for each in items if not each.get_closest_marker("long")]
