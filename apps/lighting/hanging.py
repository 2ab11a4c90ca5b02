"""Saving a light change together with what hangs above the tank from then on."""

from django.db import transaction

from apps.lighting.models import HungFixture


@transaction.atomic
def save_light_change(*, change, hung=None):
    """Save a LightChange and, unless hung is None, put these HungFixtures in place of its own.

    The rows are the whole rig from then on; with none, the rig before the change stays.
    """
    change.save()
    if hung is not None:
        change.hung.all().delete()
        for number, row in enumerate(hung, start=1):
            row.pk, row.change, row.number = None, change, number
        HungFixture.objects.bulk_create(hung)
    return change
