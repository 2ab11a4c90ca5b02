"""What a host's programs ask: is it alive, may it be sent visitors, how does it fare."""

import hmac

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache

from apps.hosting.watching import metrics
from apps.hosting.watching.readiness import readiness


@never_cache
def health(request: HttpRequest) -> HttpResponse:
    """Say that this worker answers; asks nothing else."""
    return HttpResponse("ok\n", content_type="text/plain; charset=utf-8")


@never_cache
def ready(request: HttpRequest) -> HttpResponse:
    """Say whether visitors may be sent here: 200, or 503 and what is not there."""
    stated = readiness.read()
    words = {name: "ok" if is_ok else "not ready" for name, is_ok in stated.items()}
    return JsonResponse(words, status=200 if all(stated.values()) else 503)


@never_cache
def show_metrics(request: HttpRequest) -> HttpResponse:
    """Show numbers to whoever has the token; without one set there is no such page."""
    if not settings.METRICS_TOKEN:
        return HttpResponse(status=404)
    stated = request.headers.get("Authorization", "").removeprefix("Bearer ")
    if not hmac.compare_digest(stated.encode(), settings.METRICS_TOKEN.encode()):
        return HttpResponse(status=401, headers={"WWW-Authenticate": "Bearer"})
    return HttpResponse(metrics.as_text(), content_type="text/plain; version=0.0.4; charset=utf-8")
