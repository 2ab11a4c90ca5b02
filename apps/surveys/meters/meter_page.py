"""Where a meter is seen: on its keeper's list, or on the page that its club has of it."""

from django.urls import reverse

from apps.surveys.models import Meter


def page_of_meter(meter: Meter) -> str:
    """Return the address of the page that shows a meter."""
    if meter.club_id:
        return reverse("club_meter", args=[meter.club_id, meter.pk])
    return reverse("meter_list")
