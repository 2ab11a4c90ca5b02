"""The page policy's nonce, under the name templates and django-htmx look for."""

from django.http import HttpRequest


def csp_nonce(request: HttpRequest) -> dict[str, str]:
    return {"csp_nonce": getattr(request, "csp_nonce", "")}
