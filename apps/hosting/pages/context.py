"""What a host says on every page."""

from django.conf import settings
from django.http import HttpRequest


def host_words(request: HttpRequest) -> dict[str, str]:
    return {"maintenance_message": settings.MAINTENANCE_MESSAGE}
