"""A form that makes a new row makes it once, however often it is sent.

A page gives such a form a mark of its own (`{% form_mark %}`). The view's writes and the note
that this form was taken are one transaction, so a second tap waits for the first, is led where
the first was led, and writes nothing. The same form sent anew with other content, after going
back, is taken for another entry: nothing typed is lost, and the keeper is told so.
A page loaded anew has a new mark.

What takes long before anything is written, such as decoding photos or fitting a light, is no part
of that transaction (`late`): where one write goes on at a time, nobody's waits for it.
"""

import datetime as dt
import functools
import hashlib
import json
import re
import secrets
from collections.abc import Callable

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone

from apps.common import drafts
from apps.common.htmx import go_to
from apps.common.models import SentForm

# What writes, and answers where it led.
Write = Callable[[], HttpResponse]
View = Callable[..., HttpResponse | Write]

FIELD = "form_mark"
MARK = re.compile(r"[0-9a-f]{32}")
# What differs each time the same form is sent.
NOT_CONTENT = {"csrfmiddlewaretoken", drafts.FIELD}
# As long as a draft is kept: a form put back on a page brings its mark along.
KEPT_FOR = dt.timedelta(seconds=drafts.KEPT_FOR)
SENT_TWICE = "This was sent twice but saved once. To add another, open its page again."
ANOTHER_ENTRY = (
    "You sent this form before with other content, so there are two entries now. If this one "
    "corrects the first, delete the first."
)


def new_mark() -> str:
    return secrets.token_hex(16)


def once(
    *, but: str | None = None, late: bool = False
) -> Callable[[View], Callable[..., HttpResponse]]:
    """Return a decorator for views that make a row of what a page's form sends.

    Put it below `login_required` and whatever else may lead elsewhere. `but` names a button of
    the form that only looks. A form without a mark is taken as often as it comes. A `late` view
    works before the transaction begins, and returns a page or the function that writes.
    """

    def decorate(view: View) -> Callable[..., HttpResponse]:
        @functools.wraps(view)
        def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
            mark = request.POST.get(FIELD, "") if request.method == "POST" else ""
            if not MARK.fullmatch(mark) or but in request.POST:
                return written(view(request, *args, **kwargs))
            content = _content_of(request)
            before = request.user.sent_forms.filter(mark=mark, content=content).first()
            if before is not None:
                return _led(request, before)
            if not late:
                return _answer_once(
                    request, mark, content, lambda: written(view(request, *args, **kwargs))
                )
            answer = view(request, *args, **kwargs)
            if isinstance(answer, HttpResponseBase):
                # Shown again, with what is wrong or still to do: not taken.
                return answer
            return _answer_once(request, mark, content, answer)

        # Every address that makes a row is asked for it (tests/common/test_idempotency.py).
        guarded.makes_once = True  # type: ignore[attr-defined]  # a mark on the function
        return guarded

    return decorate


def written(answer: HttpResponse | Write) -> HttpResponse:
    """Return the page of a late view's answer, written where it writes."""
    return answer if isinstance(answer, HttpResponseBase) else answer()


def _led(request: HttpRequest, form: SentForm) -> HttpResponse:
    """Lead where a form led that was taken before."""
    messages.success(request, SENT_TWICE)
    return go_to(request, form.led_to)


@transaction.atomic
def _answer_once(request: HttpRequest, mark: str, content: str, answer: Write) -> HttpResponse:
    # Two at once: the second waits here until the first has written all, or failed.
    form, is_new = SentForm.objects.get_or_create(keeper=request.user, mark=mark, content=content)
    if not is_new:
        return _led(request, form)
    response = answer()
    form.led_to = response.get("HX-Redirect") or response.get("Location") or ""
    if not form.led_to:
        # Shown again, with what is wrong or still to do: not taken.
        form.delete()
        return response
    form.save(update_fields=["led_to"])
    others = request.user.sent_forms.exclude(pk=form.pk)
    if others.filter(mark=mark).exists():
        messages.warning(request, ANOTHER_ENTRY)
    others.filter(sent_at__lt=timezone.now() - KEPT_FOR).delete()
    return response


def _content_of(request: HttpRequest) -> str:
    """Return the fingerprint of what a form sends, its files included."""
    entered = sorted(
        (name, texts) for name, texts in request.POST.lists() if name not in NOT_CONTENT
    )
    digest = hashlib.sha256(json.dumps([request.path, entered]).encode())
    for name, files in sorted(request.FILES.lists()):
        for file in files:
            digest.update(json.dumps([name, file.name, file.size]).encode())
            for chunk in file.chunks():
                digest.update(chunk)
            file.seek(0)
    return digest.hexdigest()
