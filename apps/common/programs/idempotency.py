"""A POST sent again with the same Idempotency-Key gives the first answer and makes nothing more."""

import datetime as dt
import functools
import hashlib
import json
from collections.abc import Callable
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone
from django.utils.datastructures import MultiValueDict
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter
from rest_framework import status, viewsets
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from apps.common.models import SentRequest
from apps.common.programs.versions import READ_HEADER, WRITE_HEADER, TaggedMixin, VersionedMixin

HEADER = "Idempotency-Key"
KEY_CHARS_MAX = 200
# The calls that make rows.
MAKING = ("create", "bulk")
# How the calls on rows are headed in the schema.
VERBS = {
    "create": "Make", "retrieve": "Read", "update": "Replace",
    "partial_update": "Change", "destroy": "Delete",
}  # fmt: skip
# A program that was cut off tries again within minutes; a phone may be off over a weekend. No
# longer than jobs are kept once they ended (`later/clearing.py`): no answer names one that is gone.
KEPT_FOR = dt.timedelta(days=7)


class OtherContent(APIException):
    status_code = 422
    default_detail = f"This {HEADER} was used with other content. Use a new key."
    default_code = "idempotency_key_reused"


class OnceMixin:
    """Before a viewset: a POST that makes something may carry an Idempotency-Key."""

    # The actions that take a key.
    makes: tuple[str, ...] = MAKING

    def answered_before(self, request: Request) -> Response | None:
        """Return the first answer to a request that came before, None where there is none yet.

        For what takes long to read: it is read before `made_once` begins to write.
        """
        key = request.headers.get(HEADER)
        if key is None:
            return None
        named = SentRequest.objects.filter(keeper=request.user, key=fingerprint_of_key(key))
        sent = named.filter(sent_at__gte=oldest_kept()).first()
        return sent and first_answer(sent, content_of(request))

    def made_once(self, request: Request, make: Callable[[], Response]) -> Response:
        """Return the answer of `make`, or the first one to a request that came before."""
        key = request.headers.get(HEADER)
        if key is None:
            return make()
        # Read before any row is locked: nobody else waits for what a slow line sends.
        content = content_of(request)
        with transaction.atomic():
            # Too old to count, even where nothing was sent since that would have deleted it: what
            # it made, such as a job, may be gone by now.
            fingerprint = fingerprint_of_key(key)
            before = request.user.sent_requests.filter(sent_at__lt=oldest_kept())
            before.filter(key=fingerprint).delete()
            # Two at once: the second waits here until the first has written all, or failed.
            sent, is_new = SentRequest.objects.get_or_create(
                keeper=request.user,
                key=fingerprint,
                defaults={"content": content},
            )
            if not is_new:
                return first_answer(sent, content)
            response = make()
            sent.status, sent.body = (
                response.status_code,
                JSONRenderer().render(response.data).decode(),
            )
            sent.save(update_fields=["status", "body"])
        before.delete()
        return response


class ModelViewSet(OnceMixin, VersionedMixin, viewsets.ModelViewSet):
    """A ModelViewSet whose POST may carry an Idempotency-Key, and says where the new row is."""

    # Whether what is sent takes long to check.
    checks_long = False

    def create(self, request: Request, *args: object, **kwargs: object) -> Response:
        if self.checks_long:
            return self.located(self.made_checked(request, self.created))
        make = functools.partial(super().create, request, *args, **kwargs)
        return self.located(self.made_once(request, make))

    def made_checked(self, request: Request, save: Callable[[Any], Response]) -> Response:
        """Return the answer of `save`, given the serializer of what was sent, once it is sound.

        For what takes long to check: that is done before `made_once` begins to write.
        """
        before = self.answered_before(request)
        if before is not None:
            return before
        serializer = self.get_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        return self.made_once(request, lambda: save(serializer))

    def created(self, serializer: Any) -> Response:
        """Save what is sound and answer with it."""
        self.perform_create(serializer)
        return Response(serializer.data, status=status.HTTP_201_CREATED)

    def located(self, response: Response) -> Response:
        """Return the answer to a POST with the address of its row."""
        row = {**self.kwargs, "pk": response.data["id"]}
        response["Location"] = self.reverse_action("detail", kwargs=row)
        return response


def first_answer(sent: SentRequest, content: str) -> Response:
    """Return what was answered to a request of this content that came before."""
    if sent.content != content:
        raise OtherContent
    return Response(json.loads(sent.body), sent.status, headers={"Idempotency-Replayed": "true"})


def oldest_kept() -> dt.datetime:
    """Return the moment before which a request was sent too long ago to be answered again."""
    return timezone.now() - KEPT_FOR


def fingerprint_of_key(key: str) -> str:
    """Return what a key is kept as; raise ValidationError for what is none."""
    if not 0 < len(key) <= KEY_CHARS_MAX or not key.isascii() or not key.isprintable():
        raise ValidationError({HEADER: [f"A key has 1 to {KEY_CHARS_MAX} plain characters."]})
    return hashlib.sha256(key.encode()).hexdigest()


def content_of(request: Request) -> str:
    """Return the fingerprint of an address and of what was sent there."""
    data = request.data
    if isinstance(data, MultiValueDict):
        data = {name: [plain(value) for value in values] for name, values in data.lists()}
    sent = json.dumps([request.path, data], sort_keys=True)
    return hashlib.sha256(sent.encode()).hexdigest()


def plain(value: object) -> object:
    """Return a value of a form; of a file the fingerprint of all of it."""
    if not isinstance(value, UploadedFile):
        return value
    digest = hashlib.sha256()
    for chunk in value.chunks():
        digest.update(chunk)
    value.seek(0)
    return digest.hexdigest()


class Schema(AutoSchema):
    """The schema of one operation, with the headers it may carry."""

    def get_response_serializers(self) -> object:
        answer = super().get_response_serializers()
        # Many rows are made as one is.
        is_bulk = getattr(self.view, "action", "") == "bulk"
        return {status.HTTP_201_CREATED: answer} if is_bulk else answer

    def get_summary(self) -> str:
        """Say what an operation does in a few words, where its view does not say it itself."""
        stated = super().get_summary()
        if stated:
            return str(stated)
        nouns = [part for part in self.path.split("/") if part and "{" not in part]
        noun = nouns[-1].replace("-", " ")
        action = getattr(self.view, "action", "")
        if action == "list":
            return f"List {noun}"
        if action in VERBS:
            one = noun if noun.endswith("series") else noun.removesuffix("s")
            return f"{VERBS[action]} one {one}"
        words = " ".join((self.get_description() or noun).split("\n\n")[0].split())
        return words.split(". ")[0].split(":")[0].rstrip(".")

    def get_override_parameters(self) -> list[Any]:
        view, action, reads = self.view, getattr(self.view, "action", ""), self.method == "GET"
        guards = getattr(view, "guards", ())
        writes = isinstance(view, VersionedMixin) and not reads and self.method != "POST"
        if action in getattr(view, "makes", ()):
            return [
                header(
                    HEADER,
                    "You make it up: a new one for each row. Sent again with the same content "
                    f"within {KEPT_FOR.days} days, it gets the first answer and makes no second "
                    "row; with other content the answer is 422.",
                )
            ]
        if writes or action in guards:
            changed = "The ETag you read. If the row has changed since, the answer is 412."
            return [header(WRITE_HEADER, changed)]
        if reads and isinstance(view, TaggedMixin) and action == "retrieve":
            return [header(READ_HEADER, "The ETag you read. If unchanged, the answer is 304.")]
        return []


def header(name: str, description: str) -> OpenApiParameter:
    """Return a header that a call may carry."""
    return OpenApiParameter(name, str, OpenApiParameter.HEADER, description=description)
