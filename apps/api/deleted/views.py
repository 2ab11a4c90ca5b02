"""Recently deleted for programs: what waits there, and bringing a row back."""

from django.core.exceptions import ValidationError as Unsound
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from apps.api.deleted.serializers import DeletedListSerializer, RestoredSerializer
from apps.api.filtering import refuse_unknown
from apps.common.programs.serializers import api_messages
from apps.common.programs.versions import writing
from apps.common.removal import NotRemoved
from apps.tanks.access import writable_tank
from apps.tanks.deleted import (
    DELETED_KEPT_DAYS,
    DELETED_SHOWN_MAX,
    DeletedRow,
    deleted_of_keeper,
    deleted_of_tank,
    restore_first,
)
from apps.tanks.removable_kinds import kind_named, writable_row

WAITING = (
    f"Newest first, {DELETED_SHOWN_MAX} at most; `more` says how many were left out. Each can be "
    f"restored for {DELETED_KEPT_DAYS} days, and is then gone for good."
)


class DeletedView(APIView):
    """What was deleted of a keeper's own."""

    @extend_schema(
        summary="List what you deleted",
        description=f"Your deleted tanks, meters, fixtures and plans without a tank. {WAITING}",
        responses=DeletedListSerializer,
    )
    def get(self, request: Request) -> Response:
        refuse_unknown(request, set())
        return listed(*deleted_of_keeper(request.user))


class TankDeletedView(APIView):
    """What was deleted from a tank, for those who may change it."""

    @extend_schema(
        summary="List what was deleted from a tank",
        description=f"For those who may change the tank. {WAITING}",
        responses=DeletedListSerializer,
    )
    def get(self, request: Request, tank_pk: int) -> Response:
        tank = writable_tank(request.user, tank_pk)
        refuse_unknown(request, set())
        return listed(*deleted_of_tank(tank))


def listed(deleted: list[DeletedRow], more: int) -> Response:
    """Return the answer that lists deleted rows."""
    return Response(DeletedListSerializer({"results": deleted, "more": more}).data)


class RestoreView(APIView):
    """One deleted row, to be brought back."""

    @extend_schema(
        request=None,
        responses=RestoredSerializer,
        summary="Restore a deleted row",
        description="Bring a row back, by its `kind` and `id` in the list of deleted rows. "
        "It is refused if it no longer fits what has changed since, or if it "
        "is part of another deleted row: restore that one first. Repeating it "
        "changes nothing.",
        parameters=[
            OpenApiParameter("kind", str, OpenApiParameter.PATH, description="Such as `note`.")
        ],
    )
    def post(self, request: Request, kind: str, pk: int) -> Response:
        named = kind_named(kind)
        row = writable_row(request.user, named, pk=pk)
        if named.deleted_above(row):
            raise ValidationError(restore_first(named))
        try:
            with writing(request):
                named.restore(row)
        except NotRemoved:
            pass
        except Unsound as problem:
            raise ValidationError(api_messages(problem)) from None
        return Response(RestoredSerializer(DeletedRow(named, row, named.words(row))).data)
