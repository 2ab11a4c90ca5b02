"""What a host says and allows on every page."""

from django.conf import settings
from django.http import HttpRequest


def host_words(request: HttpRequest) -> dict[str, object]:
    return {
        "maintenance_message": settings.MAINTENANCE_MESSAGE,
        "officers_reset": settings.OFFICERS_RESET,
    }
