"""What devices send that were on their own for a while: each edit once, none lost.

A device marks what it made with an id of its own, sends it in batches of JSON until it hears that
it was taken in, and says whose it is. What an edit means, and which of two stands, is up to the
room it is for; here it is read, and refused with a sentence and nothing stored.
"""

import functools
import json
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_http_methods

from apps.common.texts import is_storable

# No reading and no length comes near it, and every database holds it.
NUMBER_MAX = 1e9


class UnreadableEdits(ValueError):
    """What was sent is no list of edits; the message says why."""


class AnotherKeeper(Exception):
    """Someone else signed in on the device meanwhile: the edits are not theirs to send."""


@dataclass
class Taken:
    """What became of the edits: ids that need not be sent again, and {id: why not}."""

    accepted: list[uuid.UUID] = field(default_factory=list)
    refused: dict[uuid.UUID, str] = field(default_factory=dict)


def answers_devices(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Let a page's program call a view: what is wrong is answered in JSON."""

    @ensure_csrf_cookie
    @never_cache
    @require_http_methods(["GET", "POST"])
    @functools.wraps(view)
    def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        # No redirect to sign-in: the page that sends must get an answer, not be led away.
        if not request.user.is_authenticated:
            return JsonResponse({"problem": "Sign in again."}, status=401)
        try:
            return view(request, *args, **kwargs)
        except UnreadableEdits as problem:
            return JsonResponse({"problem": str(problem)}, status=400)
        except AnotherKeeper:
            return JsonResponse({"problem": "Another keeper is signed in."}, status=409)

    return guarded


def require_keeper(request: HttpRequest, sent: object) -> None:
    """Raise AnotherKeeper unless edits are sent by the keeper that the device made them for."""
    if str(sent) != str(request.user.pk):
        raise AnotherKeeper


def decoded(body: str | bytes) -> object:
    """Return what a JSON body holds, or raise UnreadableEdits."""
    try:
        return json.loads(body)
    except (ValueError, RecursionError) as problem:
        raise UnreadableEdits(str(problem)) from None


def read_batch(sent: object, *, most: int, noun: str, one: str) -> list[dict[str, object]]:
    """Return the objects of a list that holds so many at most."""
    if not isinstance(sent, list) or len(sent) > most:
        raise UnreadableEdits(f"Send a list of at most {most} {noun}.")
    if not all(isinstance(edit, dict) for edit in sent):
        raise UnreadableEdits(f"{one} is an object.")
    return sent


def read_id(value: object, *, problem: str) -> uuid.UUID:
    """Return the id that a device gave, or raise UnreadableEdits with the problem."""
    try:
        return uuid.UUID(value)  # type: ignore[arg-type]  # what is no text is refused below
    except (ValueError, TypeError, AttributeError):
        raise UnreadableEdits(problem) from None


def read_count(value: object, *, most: int, problem: str) -> int:
    """Return a whole number from 0 to `most`; Python counts True as a number, and it is none."""
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= most:
        raise UnreadableEdits(problem)
    return value


def read_number(value: object, *, problem: str) -> float:
    """Return a number; NaN and infinity are none."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise UnreadableEdits(problem)
    if not abs(value) < NUMBER_MAX:
        raise UnreadableEdits(problem)
    return float(value)


def read_text(value: object, *, problem: str) -> str:
    """Return a text that every database stores."""
    if not isinstance(value, str) or not is_storable(value):
        raise UnreadableEdits(problem)
    return value


def read_list(value: object, *, most: int | None = None, problem: str) -> list[object]:
    """Return a list, empty where nothing was sent."""
    items = value or []
    if not isinstance(items, list) or (most is not None and len(items) > most):
        raise UnreadableEdits(problem)
    return items
