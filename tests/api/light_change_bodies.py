"""What the tests of light changes send over the API, as whom and where to."""

import datetime as dt

from django.utils import timezone
from rest_framework.test import APIClient

NOW = timezone.now()


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def api(user):
    client = APIClient()
    client.force_authenticate(user)
    return client


def url(tank, pk=None):
    return f"/api/v1/tanks/{tank.pk}/light-changes/" + (f"{pk}/" if pk else "")


def entry(days, *hung, **fields):
    """Return the body of a change some days ago."""
    body = {"happened_at": days_ago(days).isoformat(), "summary": f"{days} ago", "hung": hung}
    return body | fields
