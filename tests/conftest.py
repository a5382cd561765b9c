"""What all tests share: hypothesis without a deadline, since the machines of its users differ."""

import os

import pytest
from hypothesis import HealthCheck, settings

USUAL = {
    "deadline": None,  # the machines of its users differ
    "suppress_health_check": [HealthCheck.too_slow, HealthCheck.data_too_large],
}
settings.register_profile("handoff", derandomize=True, **USUAL)  # type: ignore[arg-type]
settings.register_profile("explore", max_examples=2000, **USUAL)  # type: ignore[arg-type]
settings.load_profile("handoff")


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are processors: some tests wait for a browser or for what they killed."""
    return (os.cpu_count() or 1) + 1


def pytest_addoption(parser: pytest.Parser) -> None:
    """How much the tests do that can do ever more: see what each says of itself."""
    parser.addoption("--pages", type=int, default=1000, help="random sheets to print (1,000)")
    parser.addoption("--kills", type=int, default=50, help="runs to kill (50)")
    parser.addoption("--wards", type=int, default=8, help="random wards to print (8)")
    parser.addoption("--mutations", type=int, default=2000, help="mangled logs to read (2,000)")
