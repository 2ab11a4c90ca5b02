"""Programs come by HTTPS or not at all.

Led on as a browser is, a program would go on sending its token in the open, and nobody notices.
"""

import re
from collections.abc import Callable
from http import HTTPStatus

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse

from apps.api.problems import MEDIA_TYPE, problem

DETAIL = "Call this site by https. If a token was sent by plain http, revoke it."


class HttpsForProgramsMiddleware:
    """Refuses by plain HTTP what SECURE_REDIRECT_EXEMPT leads nowhere: calls of the API."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.exempt = [re.compile(pattern) for pattern in settings.SECURE_REDIRECT_EXEMPT]

    def __call__(self, request: HttpRequest) -> HttpResponse:
        by_program = any(exempt.search(request.path.lstrip("/")) for exempt in self.exempt)
        if settings.SECURE_SSL_REDIRECT and by_program and not request.is_secure():
            status = HTTPStatus.FORBIDDEN
            content = problem(status, DETAIL) | {"code": "https_only"}
            return JsonResponse(content, status=status, content_type=MEDIA_TYPE)
        return self.get_response(request)
