"""Rows read and written by their state: ETag, If-None-Match, If-Match (RFC 9110, 8.8.3, 13.1)."""

import hashlib
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from django.db import transaction
from django.db.models import Model
from rest_framework.exceptions import APIException
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.status import HTTP_304_NOT_MODIFIED, HTTP_412_PRECONDITION_FAILED

# A mixin reads what the class beside it has; when the app runs it stands on its own.
if TYPE_CHECKING:
    from rest_framework.viewsets import ModelViewSet as BesideViewSet
else:
    BesideViewSet = object

READ_HEADER, WRITE_HEADER = "If-None-Match", "If-Match"
ANY = "*"


class ChangedSince(APIException):
    status_code = HTTP_412_PRECONDITION_FAILED
    default_detail = "It was changed since you read it. Read it again."
    default_code = "changed_since"


@contextmanager
def writing(request: Request) -> Iterator[None]:
    """Write in one transaction, which begins once all is here that a slow line sends.

    SQLite lets one write at a time: nobody else waits for a line.
    """
    _ = request.data
    with transaction.atomic():
        yield


class TaggedMixin(BesideViewSet):
    """Before a viewset: one row is read with its ETag."""

    def retrieve(self, request: Request, *args: object, **kwargs: object) -> Response:
        return answered_with_tag(request, super().retrieve(request, *args, **kwargs).data)


class VersionedMixin(TaggedMixin):
    """Before a viewset: one row is read with its ETag, and written under If-Match where sent."""

    # The POST actions on a row that ask `check_unchanged` first.
    guards: tuple[str, ...] = ()

    def update(self, request: Request, *args: object, **kwargs: object) -> Response:
        with writing(request):
            self.check_unchanged(request, held=True)
            return super().update(request, *args, **kwargs)

    def destroy(self, request: Request, *args: object, **kwargs: object) -> Response:
        # Of a deletion no body is read.
        with transaction.atomic():
            self.check_unchanged(request)
            return super().destroy(request, *args, **kwargs)

    def changed(self, request: Request, change: Callable[[Any], object]) -> Response:
        """Change a row, under If-Match where sent, and answer how it is with it then."""
        with writing(request):
            self.check_unchanged(request)
            change(self.get_object())
        return Response(self.get_serializer(self.get_object()).data)

    def check_unchanged(self, request: Request, *, held: bool = False) -> None:
        """Raise ChangedSince where the row is not what If-Match names; hold it until written.

        With `held` it is held without If-Match too: what is checked together with what stands in
        the row is then checked with what will stand there.
        """
        tags = tags_in(request.headers.get(WRITE_HEADER, ""))
        known = set() if ANY in tags else tags
        if not known and not held:
            return
        self.hold(self.get_object())
        if known and tag_of(self.get_serializer(self.get_object()).data) not in known:
            raise ChangedSince

    def hold(self, row: Model) -> None:
        """Let one change of a row at a time through, until the transaction ends.

        Where writing it holds another row first, that one is to be held here in its place.
        """
        type(row)._base_manager.select_for_update(no_key=True).filter(pk=row.pk).first()


def answered_with_tag(request: Request, data: object) -> Response:
    """Return the answer with its ETag: 304 and no body where the program has it."""
    tag = tag_of(data)
    is_known = tag in tags_in(request.headers.get(READ_HEADER, ""))
    response = Response(status=HTTP_304_NOT_MODIFIED) if is_known else Response(data)
    response["ETag"] = tag
    return response


def tag_of(data: object) -> str:
    """Return the strong ETag of what a row is answered with."""
    whole = json.dumps(json.loads(JSONRenderer().render(data)), sort_keys=True)
    return f'"{hashlib.sha256(whole.encode()).hexdigest()[:32]}"'


def tags_in(header: str) -> set[str]:
    """Return the ETags that a header names; none where there is no header.

    An answer that went out packed bears its tag as a weak one, which names the same row.
    """
    return {tag.strip().removeprefix("W/") for tag in header.split(",") if tag.strip()}
