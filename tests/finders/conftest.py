"""Fixtures of the finders' tests: drawn sequences, the demonstration match, simulated matches."""

from functools import lru_cache

import drawing as drawn
import pytest
import scoring


@pytest.fixture
def drawing():
    """The builder class `Drawing`."""
    return drawn.Drawing


@lru_cache(maxsize=1)
def _demo():
    import tactical_kit as tk

    return tk.demo_match()


@pytest.fixture(scope="session")
def demo():
    """The demonstration match; one object, so that what is found in it is remembered."""
    return _demo()


@pytest.fixture(scope="session")
def simulated():
    """Simulate a match by seed (seeds 1100-1119 are for development, 2001-2020 for the table alone)."""
    return scoring.simulate
