"""What was created, changed and deleted since a program last looked."""

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from apps.api.changes.cursor import UnfitCursor, read_cursor
from apps.api.changes.following import CHANGED, CREATED, DELETED, page_of_changes
from apps.api.changes.kinds import NAMES
from apps.api.filtering import refuse_unknown
from apps.common.numbers import whole_number
from apps.common.programs.versions import READ_HEADER, answered_with_tag

START_ANEW = "This cursor is not valid here. Ask without `since`, then read everything again."
NO_TANK = "Give the number of a tank."


class ChangeSerializer(serializers.Serializer):
    """A row that came, changed or went, told once, at its last write."""

    kind = serializers.ChoiceField([(name, name) for name in NAMES])
    id = serializers.IntegerField()
    tank = serializers.IntegerField(
        allow_null=True,
        help_text="Null for meters, meter checks, fixtures, and plans without a tank.",
    )
    change = serializers.ChoiceField([(name, name) for name in (CREATED, CHANGED, DELETED)])
    path = serializers.CharField(
        allow_null=True, help_text="Where the row is read now; null for one that is gone."
    )


class ChangesSerializer(serializers.Serializer):
    """A page of changes; of each tank in the order of its writes."""

    results = ChangeSerializer(many=True)
    cursor = serializers.CharField(help_text="Send it as `since` next time.")
    more = serializers.BooleanField(help_text="More wait: ask again at once.")


class ChangesView(APIView):
    """What changed in the tanks you may see, and in what you own outside tanks.

    Outside tanks you own your meters and their checks, your fixtures, and plans without a tank.
    Club meters and friends’ meters are not included.

    First call without `since`: you get only a cursor. Then read everything. Then call with the
    newest cursor each time. Nothing is left out, whoever writes at the same time; a row written
    while you read may appear twice. A tank that you were let in to appears as created: read it
    whole. One that you may no longer see appears as deleted. A plan moved into a tank appears as
    deleted (tank null), then as changed in that tank. What lies below a deleted row does not appear
    row by row; a restored row appears as changed. Where nothing changed, the answer stays the same,
    and so does its ETag.
    """

    @extend_schema(
        parameters=[
            OpenApiParameter("since", str, description="The cursor of the answer before."),
            OpenApiParameter("tank", int, description="Of this tank alone, each time."),
            OpenApiParameter(
                READ_HEADER, str, OpenApiParameter.HEADER,
                description="The ETag you read; unchanged is 304.",
            ),
        ],
        responses=ChangesSerializer,
    )  # fmt: skip
    def get(self, request: Request) -> Response:
        refuse_unknown(request, {"since", "tank"})
        word = request.query_params.get("since")
        tank_pk = tank_number(request)
        try:
            since = None if word is None else read_cursor(word)
            page = page_of_changes(request.user, since, tank_pk)
        except UnfitCursor:
            raise ValidationError({"since": [START_ANEW]}) from None
        return answered_with_tag(request, ChangesSerializer(page).data)


def tank_number(request: Request) -> int | None:
    """Return the tank that is named; raise ValidationError for what is no number."""
    text = request.query_params.get("tank")
    if text is None:
        return None
    if (pk := whole_number(text)) is None:
        raise ValidationError({"tank": [NO_TANK]})
    return pk
