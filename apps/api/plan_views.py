"""Plans, acclimations and trials over REST: to read; they are made and followed on their pages."""

import django_filters.rest_framework as django_filters
from rest_framework import viewsets

from apps.api import plan_serializers as serializers
from apps.api.views import FixedParentMixin
from apps.outcomes.models import Trial
from apps.planning.models import Acclimation, Plan


class PlanFilter(django_filters.FilterSet):
    # By its number alone: whether a stranger's tank has it is not told.
    tank = django_filters.NumberFilter(field_name="tank_id")

    class Meta:
        model = Plan
        fields = ["kind"]


class AcclimationFilter(django_filters.FilterSet):
    coral = django_filters.NumberFilter(field_name="coral_id")

    class Meta:
        model = Acclimation
        fields = ["whole_tank"]


class PlanViewSet(viewsets.ReadOnlyModelViewSet):
    """Layouts and what-ifs of the tanks the user sees, and their own without a tank.

    A list tells their heads; one plan comes with its question and its answer.
    """

    queryset = Plan.objects.none()
    filterset_class = PlanFilter

    def get_serializer_class(self):
        in_list = self.action == "list"
        return serializers.PlanHeadSerializer if in_list else serializers.PlanSerializer

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        plans = Plan.objects.visible_to(self.request.user).select_related("owner")
        return plans.defer("asked", "answer") if self.action == "list" else plans


class AcclimationViewSet(FixedParentMixin, viewsets.ReadOnlyModelViewSet):
    """The acclimations of a tank with their steps and ticks."""

    queryset = Acclimation.objects.none()
    serializer_class = serializers.AcclimationSerializer
    filterset_class = AcclimationFilter

    def get_queryset(self):
        # A plan of a coral that was taken away went with it.
        plans = super().get_queryset().filter(coral__removed_at__isnull=True)
        return plans.prefetch_related("steps__acclimation", "ticks")


class TrialViewSet(FixedParentMixin, viewsets.ReadOnlyModelViewSet):
    """The trials of a tank with the day drawn for each coral."""

    queryset = Trial.objects.none()
    serializer_class = serializers.TrialSerializer
    filterset_fields = ["question"]

    def get_queryset(self):
        return super().get_queryset().prefetch_related("draws__trial")
