"""Programs come by HTTPS or not at all.

Led on as a browser is, a program would go on sending its token in the open, and nobody notices.
"""

from collections.abc import Callable
from http import HTTPStatus

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse

from apps.api.problems import MEDIA_TYPE, problem

# Beside it SECURE_REDIRECT_EXEMPT of the settings, which leaves these addresses to what is below.
PROGRAMS, PAGES = "/api/v1/", "/api/v1/docs/"
DETAIL = "Programs come by https. Whatever token was sent may be known now: revoke it."


class HttpsForProgramsMiddleware:
    """Refuses calls of the API that came by plain HTTP where the site asks for HTTPS."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        by_program = request.path.startswith(PROGRAMS) and not request.path.startswith(PAGES)
        if settings.SECURE_SSL_REDIRECT and by_program and not request.is_secure():
            status = HTTPStatus.FORBIDDEN
            content = problem(status, DETAIL) | {"code": "https_only"}
            return JsonResponse(content, status=status, content_type=MEDIA_TYPE)
        return self.get_response(request)
