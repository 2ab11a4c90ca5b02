"""A tank with more corals and events than a page may list."""

import pytest

from tests.outcomes.crowd import crowd


@pytest.fixture
def crowded(tank):
    """A tank with many corals, each of which paled once over the last months, the first lately."""
    return crowd(tank)
