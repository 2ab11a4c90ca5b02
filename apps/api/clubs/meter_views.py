"""A club's meters for programs: seen by its members, kept by its officers, lent as on the page."""

from collections.abc import Callable

from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.clubs import serializers
from apps.api.views import READS, MeterCheckViewSet, RemovingMixin
from apps.clubs.access import is_officer, officers_club, readable_club
from apps.common.programs.idempotency import ModelViewSet
from apps.surveys.lending import lending
from apps.surveys.meters.following import follow
from apps.surveys.models import Meter

LENDING = {"responses": serializers.ClubMeterSerializer}
NOBODY = "Nobody has it: it is with the club."
AGAIN = " Repeating it changes nothing."
HANDING = "Only for whoever has it, whoever is next, and officers; others get 403."
# What a member may do with a meter besides reading of it.
LENT_BY = ("ask", "withdraw", "hand_over", "back", "until")


class ClubMeterViewSet(RemovingMixin, ModelViewSet):
    """The meters of a club, with who has each and who is next.

    Members read them; officers add, edit and delete them.
    """

    queryset = Meter.objects.none()
    serializer_class = serializers.ClubMeterSerializer
    guards = LENT_BY

    def initial(self, request: Request, *args: object, **kwargs: object) -> None:
        super().initial(request, *args, **kwargs)
        reads = request.method in READS or self.action in LENT_BY
        find = readable_club if reads else officers_club
        self.club = find(request.user, self.kwargs["club_pk"])

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        meters = Meter.objects.present().filter(club=self.club).select_related("club")
        return lending.with_loans(meters)

    def get_serializer_context(self) -> dict[str, object]:
        context = super().get_serializer_context() | {"today": timezone.localdate()}
        if getattr(self, "swagger_fake_view", False):
            return context
        # A new one stands in its maker's name; a changed one stays in whose it is.
        fixed = {"owner": self.request.user} if self.action == "create" else {}
        fixed |= {"club": self.club, "follows_checks": True}
        leads = is_officer(self.request.user, self.club)
        return context | {"club": self.club, "leads": leads, "fixed": fixed}

    def perform_create(self, serializer) -> None:
        serializer.save(**self.get_serializer_context()["fixed"])

    def perform_update(self, serializer) -> None:
        follow(meter=serializer.instance, change=serializer.save)

    @extend_schema(
        request=None,
        summary="Ask for a meter",
        description=f"Join its waiting list.{AGAIN}",
        **LENDING,
    )
    @action(detail=True, methods=["post"])
    def ask(self, request: Request, **kwargs: object) -> Response:
        return self.lent(lambda meter: lending.ask(meter=meter, user=request.user))

    @extend_schema(
        request=None,
        summary="Leave a meter's waiting list",
        description=f"Stop waiting for it.{AGAIN}",
        **LENDING,
    )
    @action(detail=True, methods=["post"])
    def withdraw(self, request: Request, **kwargs: object) -> Response:
        return self.lent(lambda meter: lending.withdraw(meter=meter, user=request.user))

    @extend_schema(
        request=serializers.HandOverSerializer,
        summary="Hand a meter over",
        description="Note that a member has it from today, whether or not they asked for it. "
        f"This ends the previous turn. {HANDING}{AGAIN}",
        examples=[OpenApiExample("To a member", {"to": 7}, request_only=True)],
        **LENDING,
    )
    @action(detail=True, methods=["post"], url_path="hand-over")
    def hand_over(self, request: Request, **kwargs: object) -> Response:
        to = self.read(serializers.HandOverSerializer)["to"]
        return self.lent(
            lambda meter: lending.hand_over(meter=meter, to=to, day=timezone.localdate()),
            is_so=lambda lent: lent.held is not None and lent.held.keeper_id == to.pk,
        )

    @extend_schema(
        request=None,
        summary="Return a meter",
        description=f"Note that the club has it back. {HANDING}{AGAIN}",
        **LENDING,
    )
    @action(detail=True, methods=["post"])
    def back(self, request: Request, **kwargs: object) -> Response:
        return self.lent(
            lambda meter: lending.bring_back(meter=meter, day=timezone.localdate()),
            is_so=lambda lent: lent.held is None,
        )

    @extend_schema(
        request=serializers.UntilSerializer,
        summary="Set how long a meter is kept",
        description=f"Move the end of the current turn. {HANDING}{AGAIN}",
        examples=[OpenApiExample("Until a day", {"until": "2026-05-31"}, request_only=True)],
        **LENDING,
    )
    @action(detail=True, methods=["post"])
    def until(self, request: Request, **kwargs: object) -> Response:
        until = self.read(serializers.UntilSerializer)["until"]

        def is_so(lent: lending.LendingList) -> bool:
            if lent.held is None:
                raise ValidationError({"until": [NOBODY]})
            return lent.held.until == until

        return self.lent(lambda meter: lending.keep_until(meter=meter, until=until), is_so=is_so)

    def read(self, serializer_class: type) -> dict[str, object]:
        """Return what was sent, or raise ValidationError."""
        serializer = serializer_class(data=self.request.data, context=self.get_serializer_context())
        serializer.is_valid(raise_exception=True)
        return serializer.validated_data

    def lent(
        self,
        change: Callable[[Meter], object],
        *,
        is_so: Callable[[lending.LendingList], bool] | None = None,
    ) -> Response:
        """Change who has a meter and answer how it is with it now.

        With `is_so` not everybody may: it tells of a list that it is so already, as after the same
        call before.
        """

        def allowed(meter: Meter) -> None:
            if is_so is not None:
                lent = lending.lending_list(meter)
                if is_so(lent):
                    return
                leads = is_officer(self.request.user, self.club)
                if not lending.may_hand(user=self.request.user, lent=lent, leads=leads):
                    raise PermissionDenied
            change(meter)

        return self.changed(self.request, allowed)


class ClubMeterCheckViewSet(MeterCheckViewSet):
    """A club meter's checks. Members read them, officers write them."""

    def find_meter(self) -> Meter:
        find = readable_club if self.request.method in READS else officers_club
        club = find(self.request.user, self.kwargs["club_pk"])
        meters = Meter.objects.present().filter(club=club)
        return get_object_or_404(meters, pk=self.kwargs["meter_pk"])
