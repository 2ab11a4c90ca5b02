"""The stamp of a tank: another number as soon as anything changed that its pages may show."""

from django.db import models

# The stamp of what all tanks rest on: meters and their checks, libraries of fixtures, keepers.
ALL_TANKS = 0


class TankStamp(models.Model):
    """Written by the database itself, by triggers on every table of a tank (`triggers.py`).

    The number is drawn at random, never counted: a restored database never comes to a number
    again that stood for something else.
    """

    # A plain number: the stamp outlives its tank, so that no other one ever meets its pages.
    tank_pk = models.BigIntegerField(primary_key=True)
    number = models.BigIntegerField()

    def __str__(self) -> str:
        return f"{self.tank_pk}: {self.number}"
