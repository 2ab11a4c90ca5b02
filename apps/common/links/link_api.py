"""Secret links for programs: the answer that makes one tells its address, and no other does."""

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from django.db.models import Model
from django.urls import reverse
from django.utils import timezone
from rest_framework import serializers
from rest_framework.exceptions import Throttled
from rest_framework.request import Request
from rest_framework.response import Response

from apps.common.links.forms import EXPIRY_DAYS, USUAL_DAYS
from apps.common.programs.serializers import RefusesUnknown, WholeModelSerializer
from apps.common.throttling import PAGE, note_opening, seconds_to_wait

# A mixin reads what the class beside it has; when the app runs it stands on its own.
if TYPE_CHECKING:
    from rest_framework.viewsets import ModelViewSet as BesideViewSet
else:
    BesideViewSet = object

ADDRESS_CHARS_MAX = 500


class TellsAddress(serializers.Serializer):
    """Before a serializer of a row with a token: its address, where the view knows the token."""

    # The name of the page that the token opens.
    opens: str

    address = serializers.SerializerMethodField(
        help_text="Given once, in the answer that makes the link; null after that."
    )

    def get_address(self, row: Model) -> str | None:
        token = self.context.get("token")
        if token is None:
            return None
        place = reverse(self.opens, args=[token])
        return str(self.context["request"].build_absolute_uri(place))


class SecretLinkSerializer(TellsAddress, WholeModelSerializer):
    """A link that opens something for some days; the view passes what it makes as "fixed"."""

    days = serializers.ChoiceField(
        EXPIRY_DAYS, default=USUAL_DAYS, write_only=True, help_text="How many days it opens for."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        days = attrs.pop("days")
        attrs["expires_at"] = timezone.now() + dt.timedelta(days=days)
        return super().validate(attrs)

    def create(self, validated_data: dict[str, Any]) -> Model:
        return super().create(validated_data | self.context["fixed"])


class TellsAddressMixin(BesideViewSet):
    """Before a viewset of rows with a token: the answer that makes one is kept by no cache.

    An Idempotency-Key is not for them: asked for again, the address must be a new one.
    """

    # What of a new row the address of its list and its token fix.
    fixed_names: tuple[str, ...]

    def new_row(self) -> Model:
        """Return an unsaved row of the list that the address names, as yet without a token."""
        raise NotImplementedError

    def get_serializer_context(self) -> dict[str, Any]:
        context: dict[str, Any] = super().get_serializer_context()
        if getattr(self, "swagger_fake_view", False) or self.action != "create":
            return context
        row = self.new_row()
        token = row.renew_token()
        fixed = {name: getattr(row, name) for name in self.fixed_names}
        return context | {"fixed": fixed, "token": token}

    def create(self, request: Request, *args: object, **kwargs: object) -> Response:
        response = super().create(request, *args, **kwargs)
        # No cache may learn the address.
        response["Cache-Control"] = "private, no-store"
        row = {**self.kwargs, "pk": response.data["id"]}
        response["Location"] = self.reverse_action("detail", kwargs=row)
        return response


class OpenedSerializer(RefusesUnknown, serializers.Serializer):
    """A secret link that its maker sent you."""

    address = serializers.CharField(
        max_length=ADDRESS_CHARS_MAX, help_text="The whole address, or its last part alone."
    )

    def validate_address(self, address: str) -> str:
        """Return the token that stands at the end of an address."""
        try:
            path = urlsplit(address).path
        except ValueError:
            raise serializers.ValidationError("This is not an address.") from None
        return path.rstrip("/").rpartition("/")[2]


def opened(request: Request, token: str, find: Callable[[str], Any]) -> Any:
    """Return what `find` gives for a token, at the pace of the page that it opens.

    A token that opens nothing counts as a wrong one; not in a transaction, which would take the
    count back. Raises Throttled.
    """
    if wait_s := seconds_to_wait(PAGE, request, token):
        raise Throttled(wait_s)
    link = find(token)
    note_opening(request, token, opens=link is not None)
    return link
