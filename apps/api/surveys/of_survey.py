"""What lies below a survey of a tank."""

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework import viewsets
from rest_framework.request import Request

from apps.api.views import FixedParentMixin
from apps.surveys.models import Survey
from apps.tanks.models import Tank


class OfSurveyViewSet(FixedParentMixin, viewsets.GenericViewSet):
    """Before a viewset of what one survey of a tank holds."""

    parent_name = "survey"
    queryset = Survey.objects.none()
    filter_backends: tuple[type, ...] = ()
    pagination_class = None

    def initial(self, request: Request, *args: object, **kwargs: object) -> None:
        super().initial(request, *args, **kwargs)
        self.survey: Survey = self.parent

    @property
    def tank(self) -> Tank:
        return self.survey.tank

    def find_parent(self) -> Survey:
        tank = super().find_parent()
        surveys: QuerySet = Survey.objects.present().select_related("tank", "meter")
        return get_object_or_404(surveys, tank=tank, pk=self.kwargs["survey_pk"])
