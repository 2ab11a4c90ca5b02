"""A tank's end: taken down, sold, or followed by another. What was entered stays readable."""

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import transaction

from apps.common.registry import Registry
from apps.tanks.models import Tank

# What moves on when a tank ends: provider(tank, successor, day) moves it and yields the words for
# how many of what.
MOVING_ON: Registry[str] = Registry()


def successors_of(tank, user):
    """Return the tanks that what lives in this one may move to."""
    return Tank.objects.changeable_by(user).filter(ended_on=None).exclude(pk=tank.pk)


@transaction.atomic
def end_tank(*, tank, on: dt.date, successor=None) -> list[str]:
    """End a tank on a day; move what lives in it to its successor and return that in words.

    Raises ValidationError by field.
    """
    tank.ended_on = on
    if errors := tank.end_errors():
        raise ValidationError(errors)
    tank.save(update_fields=["ended_on"])
    return MOVING_ON.collect(tank, successor, on) if successor else []


def reopen_tank(*, tank) -> None:
    """Take a tank's end back; what moved on stays where it is."""
    tank.ended_on = None
    tank.save(update_fields=["ended_on"])
