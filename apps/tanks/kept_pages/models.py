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
    # How many writes there were; whoever draws it holds the stamp until its transaction ends, so
    # that a tank's writes are counted in the order in which others see them.
    head = models.BigIntegerField(default=0)
    # Of ALL_TANKS: drawn when a database begins, and when an older moment of it is put back.
    epoch = models.BigIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.tank_pk}: {self.number}"


class RowChange(models.Model):
    """That a row was written, and at which `head` of its tank: once a row, at its last write.

    Written by the same triggers, for the models that say `FOLLOWED` (`journal.py`).
    """

    UNSHOWN = True

    # Plain numbers: a change outlives its row, and is what tells that the row is gone.
    tank_pk = models.BigIntegerField()
    table = models.CharField(max_length=63)
    row_pk = models.BigIntegerField()
    head = models.BigIntegerField()
    # The head at which the row came, 0 where that was before changes were kept.
    born = models.BigIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["tank_pk", "table", "row_pk"], name="row_change_once_a_row"
            )
        ]
        indexes = [models.Index(fields=["tank_pk", "head", "id"], name="row_change_in_order")]

    def __str__(self) -> str:
        return f"{self.table} {self.row_pk}: {self.head}"
