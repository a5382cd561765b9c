"""How many random examples a test tries: a few in every run, three times as many in `.ci/run`."""

from hypothesis import settings


def few(examples: int) -> int:
    """So many in every run; more by a profile of `conftest.py` (`--hypothesis-profile more`)."""
    assert settings.default is not None
    return max(1, examples * settings.default.max_examples // 100)
