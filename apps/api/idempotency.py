"""A POST sent again with the same Idempotency-Key gives the first answer and makes nothing more."""

import datetime as dt
import functools
import hashlib
import json
from collections.abc import Callable

from django.db import transaction
from django.utils import timezone
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter
from rest_framework import status, viewsets
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.versions import READ_HEADER, WRITE_HEADER, VersionedMixin
from apps.common.models import SentRequest

HEADER = "Idempotency-Key"
KEY_CHARS_MAX = 200
# The calls that make rows.
MAKING = ("create", "bulk")
# A program that was cut off tries again within minutes; a phone may be off over a weekend.
KEPT_FOR = dt.timedelta(days=7)


class OtherContent(APIException):
    status_code = 422
    default_detail = f"This {HEADER} came before with other content. Use a new key."
    default_code = "idempotency_key_reused"


class ModelViewSet(VersionedMixin, viewsets.ModelViewSet):
    """A ModelViewSet whose POST may carry an Idempotency-Key, and says where the new row is."""

    def create(self, request: Request, *args, **kwargs) -> Response:
        make = functools.partial(super().create, request, *args, **kwargs)
        return self.located(self.made_once(request, make))

    def made_once(self, request: Request, make: Callable[[], Response]) -> Response:
        """Return the answer of `make`, or the first one to a request that came before."""
        key = request.headers.get(HEADER)
        if key is None:
            return make()
        with transaction.atomic():
            # Two at once: the second waits here until the first has written all, or failed.
            sent, is_new = SentRequest.objects.get_or_create(
                keeper=request.user,
                key=fingerprint_of_key(key),
                defaults={"content": content_of(request)},
            )
            if not is_new:
                return first_answer(sent, request)
            response = make()
            sent.status, sent.body = (
                response.status_code,
                JSONRenderer().render(response.data).decode(),
            )
            sent.save(update_fields=["status", "body"])
        old = request.user.sent_requests.filter(sent_at__lt=timezone.now() - KEPT_FOR)
        old.delete()
        return response

    def located(self, response: Response) -> Response:
        """Return the answer to a POST with the address of its row."""
        row = {**self.kwargs, "pk": response.data["id"]}
        response["Location"] = self.reverse_action("detail", kwargs=row)
        return response


def first_answer(sent: SentRequest, request: Request) -> Response:
    """Return what was answered to a request that came before."""
    if sent.content != content_of(request):
        raise OtherContent
    return Response(json.loads(sent.body), sent.status, headers={"Idempotency-Replayed": "true"})


def fingerprint_of_key(key: str) -> str:
    """Return what a key is kept as; raise ValidationError for what is none."""
    if not 0 < len(key) <= KEY_CHARS_MAX or not key.isascii() or not key.isprintable():
        raise ValidationError({HEADER: [f"A key has 1 to {KEY_CHARS_MAX} plain characters."]})
    return hashlib.sha256(key.encode()).hexdigest()


def content_of(request: Request) -> str:
    """Return the fingerprint of an address and of what was sent there."""
    sent = json.dumps([request.path, request.data], sort_keys=True)
    return hashlib.sha256(sent.encode()).hexdigest()


class Schema(AutoSchema):
    """The schema of one operation, with the headers it may carry."""

    def get_response_serializers(self) -> object:
        answer = super().get_response_serializers()
        # Many rows are made as one is.
        is_bulk = getattr(self.view, "action", "") == "bulk"
        return {status.HTTP_201_CREATED: answer} if is_bulk else answer

    def get_override_parameters(self) -> list[OpenApiParameter]:
        if not isinstance(self.view, ModelViewSet):
            return []
        if self.method == "POST":
            if getattr(self.view, "action", "") not in MAKING:
                return []
            return [
                header(
                    HEADER,
                    "Yours to make, a new one for each row. Sent again with the same content "
                    f"within {KEPT_FOR.days} days, the first answer is given again and no second "
                    "row is made; with other content the answer is 422.",
                )
            ]
        if self.method in ("PUT", "PATCH", "DELETE"):
            changed = "The ETag you read. Was the row changed since, the answer is 412."
            return [header(WRITE_HEADER, changed)]
        is_row = getattr(self.view, "action", "") == "retrieve"
        return [header(READ_HEADER, "The ETag you read; unchanged is 304.")] if is_row else []


def header(name: str, description: str) -> OpenApiParameter:
    """Return a header that a call may carry."""
    return OpenApiParameter(name, str, OpenApiParameter.HEADER, description=description)
