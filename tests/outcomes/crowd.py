"""A tank that is crowded with corals and events, for the pages that must not grow with them."""

import datetime as dt

from django.utils import timezone

from tests.factories import grid_readings, make_coral, make_note, make_survey

MANY = 30


def date_ago(tank, n):
    return tank.today() - dt.timedelta(days=n)


def crowd(tank):
    """Survey a tank and fill it with corals that each paled once, the first lately; return it."""
    make_survey(
        tank,
        taken_at=timezone.now() - dt.timedelta(days=500),
        readings=grid_readings(tank),
    )
    for k in range(MANY):
        coral = make_coral(
            tank,
            name=f"Coral {k:02d}",
            at_cm=(5 + k, 30, 8 + k),
            since=date_ago(tank, 480),
        )
        make_note(coral, noted_on=date_ago(tank, 5 + 5 * k))
    return tank
