"""A tank whose light is known for as long as these tests look back."""

import pytest

from tests.factories import grid_readings, make_light_change, make_survey
from tests.outcomes.association.pale_corals import days_ago


@pytest.fixture
def lit(tank):
    """A tank measured long ago, with ten hours of light a day."""
    make_survey(tank, taken_at=days_ago(150), readings=grid_readings(tank))
    make_light_change(
        tank, happened_at=days_ago(160), factor=1, summary="Hours set", day_hours=10, ramp_hours=0
    )
    return tank
