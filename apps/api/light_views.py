"""The light over REST: the user's fixtures, and a tank's light changes and day curves."""

from django.db import transaction
from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.response import Response

from apps.api import light_serializers as serializers
from apps.api.light_change_serializers import LightChangeSerializer
from apps.api.views import RemovingMixin, SignedMixin
from apps.common.programs.idempotency import ModelViewSet
from apps.lighting.hanging import remove_light_change, tanks_with
from apps.lighting.models import DayCurve, Fixture, LightChange
from apps.tanks.access import hold_tanks


class FixtureViewSet(RemovingMixin, ModelViewSet):
    """The user's own library of fixtures. What hangs already stays as it was hung."""

    queryset = Fixture.objects.none()
    serializer_class = serializers.FixtureSerializer

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return Fixture.objects.owned_by(self.request.user).select_related("photometric_file")

    def get_serializer_context(self):
        return super().get_serializer_context() | {"fixed": {"owner": self.request.user}}

    def perform_create(self, serializer):
        serializer.save(owner=self.request.user)

    def hold(self, row):
        # Where it hangs first, as whoever hangs it holds the tank and then asks for its row.
        hold_tanks(tanks_with(row, self.request.user))
        super().hold(row)

    @extend_schema(methods=["GET"], description="The photometric file of a fixture, as LM-63.")
    @extend_schema(methods=["PUT"], description="Bring a photometric file: it is the optic then.")
    @action(
        detail=True,
        methods=["get", "put"],
        serializer_class=serializers.PhotometricFileSerializer,
    )
    def photometry(self, request, pk):
        fixture = self.get_object()
        if request.method == "PUT":
            context = self.get_serializer_context() | {"fixture": fixture}
            serializer = self.get_serializer(data=request.data, context=context)
            serializer.is_valid(raise_exception=True)
            serializer.save()
        elif fixture.measured is None:
            raise Http404
        else:
            serializer = self.get_serializer(fixture.measured)
        return Response(serializer.data)


class LightChangeViewSet(RemovingMixin, SignedMixin, ModelViewSet):
    """What was done to a tank's light, and when."""

    queryset = LightChange.objects.none()
    serializer_class = LightChangeSerializer
    filterset_fields = {"happened_at": ["gte", "lte"]}

    def get_queryset(self):
        return super().get_queryset().prefetch_related("hung", "days")

    def hold(self, row):
        # As `save_light_change` does: what hangs after one change follows from those before it.
        hold_tanks([self.tank.pk])

    def create(self, request, *args, **kwargs):
        _ = request.data  # before any row is locked: nobody else waits for a slow line
        return self.located(self.made_once(request, self.created_held))

    @transaction.atomic
    def created_held(self):
        """Make a change, its rows read while nobody else changes what hangs."""
        hold_tanks([self.tank.pk])
        serializer = self.get_serializer(data=self.request.data)
        serializer.is_valid(raise_exception=True)
        return self.created(serializer)

    def perform_destroy(self, instance):
        remove_light_change(change=instance)


class DayCurveViewSet(RemovingMixin, SignedMixin, ModelViewSet):
    """Named days of a tank. A light change that starts one carries a copy."""

    queryset = DayCurve.objects.none()
    serializer_class = serializers.DayCurveSerializer
