"""REST: the same rows and the same rules as the pages, as JSON.

Every set starts from the user. Strangers get 404, readers who write get 403.
"""

import django_filters.rest_framework as django_filters
from django.core.exceptions import ValidationError as Unsound
from django.db.models import Q
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import status, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import ParseError, ValidationError
from rest_framework.response import Response

from apps.api import serializers
from apps.common.programs.idempotency import ModelViewSet
from apps.common.programs.serializers import api_messages
from apps.corals.models import Coral, CoralSize, HealthNote, PhotoColour, Spot, WaterEvent
from apps.surveys.meters.following import follow, note_checked
from apps.surveys.meters.scales import take_factor
from apps.surveys.models import Meter, MeterCheck, Survey
from apps.tanks.access import readable_tank, writable_tank
from apps.tanks.models import Rock

READS = ("GET", "HEAD", "OPTIONS")


class RemovingMixin:
    """DELETE takes away as the pages do: nothing a keeper entered is erased."""

    def perform_destroy(self, instance):
        instance.remove()


class MeterViewSet(RemovingMixin, ModelViewSet):
    """The user's own meters."""

    queryset = Meter.objects.none()
    serializer_class = serializers.MeterSerializer

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return Meter.objects.owned_by(self.request.user)

    def get_serializer_context(self):
        return super().get_serializer_context() | {"fixed": {"owner": self.request.user}}

    def perform_create(self, serializer):
        serializer.save(owner=self.request.user)

    def perform_update(self, serializer):
        follow(meter=serializer.instance, change=serializer.save)

    @extend_schema(request=None, summary="Correct a meter by its checks")
    @action(detail=True, methods=["post"], url_path="take-factor")
    def take_factor(self, request, pk):
        """Set the factor that its checks give; surveys already made keep theirs."""
        meter = self.get_object()
        try:
            take_factor(meter)
        except Unsound as problem:
            raise ValidationError(api_messages(problem)) from None
        return Response(self.get_serializer(meter).data)


class MeterCheckViewSet(ModelViewSet):
    """Checks of one of the user's own meters, against a reference or another of them."""

    queryset = MeterCheck.objects.none()
    serializer_class = serializers.MeterCheckSerializer

    def initial(self, request, *args, **kwargs):
        super().initial(request, *args, **kwargs)
        self.meter = self.find_meter()

    def find_meter(self):
        own = Meter.objects.owned_by(self.request.user)
        return get_object_or_404(own, pk=self.kwargs["meter_pk"])

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return MeterCheck.objects.present().filter(meter=self.meter)

    def get_serializer_context(self):
        is_fake = getattr(self, "swagger_fake_view", False)
        fixed = {} if is_fake else {"meter": self.meter}
        return super().get_serializer_context() | {"fixed": fixed}

    def hold(self, row):
        # As `follow` does: its checks are written while the meter is held.
        super().hold(self.meter)

    def perform_create(self, serializer):
        follow(meter=self.meter, change=lambda: note_checked(serializer.save(meter=self.meter)))

    def perform_update(self, serializer):
        follow(meter=self.meter, change=lambda: note_checked(serializer.save()))

    def perform_destroy(self, instance):
        follow(meter=self.meter, change=instance.remove)


class FixedParentMixin:
    """Rows below a parent that the address names: found and guarded before anything else."""

    parent_name = "tank"

    def find_parent(self):
        find = readable_tank if self.request.method in READS else writable_tank
        return find(self.request.user, self.kwargs["tank_pk"])

    def initial(self, request, *args, **kwargs):
        super().initial(request, *args, **kwargs)
        self.parent = self.find_parent()

    def handle_exception(self, exc):
        # A filter's date near year 1 or 9999 leaves the calendar when turned to UTC.
        if isinstance(exc, OverflowError):
            exc = ParseError("A date is out of range.")
        return super().handle_exception(exc)

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        rows = self.queryset.model.objects.filter(**{self.parent_name: self.parent})
        return rows.present() if hasattr(rows, "present") else rows

    def filter_queryset(self, queryset):
        # A moment without an offset is one of the clock at the tank, as in what is written.
        with timezone.override(self.tank.zone):
            return super().filter_queryset(queryset)

    @property
    def tank(self):
        return self.parent

    def get_serializer_context(self):
        fixed = {} if getattr(self, "swagger_fake_view", False) else self.fixed()
        return super().get_serializer_context() | {"fixed": fixed}

    def fixed(self):
        return {self.parent_name: self.parent}

    def perform_create(self, serializer):
        serializer.save(**self.fixed())


class SignedMixin(FixedParentMixin):
    """Rows that remember who entered them."""

    def perform_create(self, serializer):
        serializer.save(**self.fixed(), created_by=self.request.user)


class BulkMixin(SignedMixin):
    """Rows that may also come many at once."""

    bulk_serializer_class: type[serializers.BulkSerializer]

    def get_serializer_class(self):
        return self.bulk_serializer_class if self.action == "bulk" else self.serializer_class

    @action(detail=False, methods=["post"])
    def bulk(self, request, **kwargs):
        """Make many rows at once: all of them, or none and what is wrong with which."""
        return self.made_once(request, lambda: self.make_all(request))

    def make_all(self, request):
        serializer = self.get_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        self.perform_create(serializer)
        return Response(serializer.data, status=status.HTTP_201_CREATED)


class RockViewSet(RemovingMixin, FixedParentMixin, ModelViewSet):
    """Rock in a tank, as upright boxes [cm]."""

    queryset = Rock.objects.none()
    serializer_class = serializers.RockSerializer


class SurveyViewSet(RemovingMixin, SignedMixin, ModelViewSet):
    """Surveys of a tank. A list tells their heads; one survey comes with its readings."""

    queryset = Survey.objects.none()
    filterset_fields = {"taken_at": ["gte", "lte"]}

    def get_serializer_class(self):
        in_list = self.action == "list"
        return serializers.SurveyHeadSerializer if in_list else serializers.SurveySerializer

    def get_queryset(self):
        surveys = super().get_queryset().newest_first()
        if self.action == "list":
            return surveys.with_counts()
        return surveys.select_related("tank", "meter").prefetch_related("readings")

    def get_serializer_context(self):
        context = super().get_serializer_context()
        if getattr(self, "swagger_fake_view", False):
            return context
        # A friend's meter stays on the survey it was used for, and goes nowhere else.
        usable = Meter.objects.usable_by(self.request.user)
        own, used = Q(pk__in=usable.values("pk")), Q(surveys=self.kwargs.get("pk"))
        named = own | used if "pk" in self.kwargs else own
        return context | {"meters": Meter.objects.filter(named).distinct()}


class CoralViewSet(RemovingMixin, FixedParentMixin, ModelViewSet):
    """The corals of a tank."""

    queryset = Coral.objects.none()
    serializer_class = serializers.CoralSerializer
    filterset_fields = ["group"]


class WaterEventViewSet(RemovingMixin, BulkMixin, ModelViewSet):
    """Readings of a tank's water, and what happened to it and its animals."""

    queryset = WaterEvent.objects.none()
    serializer_class = serializers.WaterEventSerializer
    bulk_serializer_class = serializers.WaterEventsSerializer
    filterset_fields = {
        "kind": ["exact"],
        "could_hurt": ["exact"],
        "happened_at": ["gte", "lte"],
    }


class OfCoralMixin(FixedParentMixin):
    parent_name = "coral"

    @property
    def tank(self):
        return self.parent.tank

    def find_parent(self):
        tank = super().find_parent()
        return get_object_or_404(
            Coral.objects.present().select_related("tank"), tank=tank, pk=self.kwargs["coral_pk"]
        )


class SpotViewSet(RemovingMixin, OfCoralMixin, ModelViewSet):
    """Where a coral sat, each spot from a date on."""

    queryset = Spot.objects.none()
    serializer_class = serializers.SpotSerializer


class HealthNoteFilter(django_filters.FilterSet):
    seen = django_filters.ChoiceFilter(choices=HealthNote.Seen.choices, method="showing")

    class Meta:
        model = HealthNote
        fields = {"noted_on": ["gte", "lte"]}

    def showing(self, notes, name, sign):
        return notes.showing(sign)


class HealthNoteViewSet(RemovingMixin, OfCoralMixin, BulkMixin, ModelViewSet):
    """What was seen on a coral, and when; `seen` asks for a sign, the main one or a further one."""

    queryset = HealthNote.objects.none()
    serializer_class = serializers.HealthNoteSerializer
    bulk_serializer_class = serializers.HealthNotesSerializer
    filterset_class = HealthNoteFilter


class CoralSizeViewSet(RemovingMixin, OfCoralMixin, ModelViewSet):
    """How large a coral was [cm]; sizes written here count as taken by calipers."""

    queryset = CoralSize.objects.none()
    serializer_class = serializers.CoralSizeSerializer
    filterset_fields = {"measured_on": ["gte", "lte"]}


class PhotoColourViewSet(OfCoralMixin, viewsets.ReadOnlyModelViewSet):
    """The colours measured in a coral's photos, oldest first: CIELAB under D65."""

    queryset = PhotoColour.objects.none()
    serializer_class = serializers.PhotoColourSerializer
    filterset_fields = {"reference_kind": ["exact"], "light": ["exact"]}

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return PhotoColour.objects.of_coral(self.parent)
