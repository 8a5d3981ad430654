"""One simulated match a session, shared by every test of this folder."""

import pytest

from tactical_kit.demo import simulate


@pytest.fixture(scope="session")
def made():
    """The kit's own story at the demonstration seed."""
    return simulate()
