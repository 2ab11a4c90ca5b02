"""A survey's plan of points: read, laid out by a pattern, and emptied, as on its page."""

from django.db import transaction
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.surveys import plan_serializers as serializers
from apps.api.surveys.of_survey import OfSurveyViewSet
from apps.surveys.plan.forms import PlanForm
from apps.surveys.plan.points import TooManyPoints, plan_as_wished, points_with_values
from apps.surveys.recording import lock_survey

GRID = {"pattern": "grid", "nx": 5, "ny": 3, "depths_cm": [10, 25, 40]}
A_GRID = [OpenApiExample("A grid", GRID, request_only=True)]


class SurveyPlanViewSet(OfSurveyViewSet):
    """The points at which the sensor is to be held for one survey."""

    serializer_class = serializers.SurveyPlanSerializer

    @extend_schema(summary="Read a survey's plan")
    def read(self, request: Request, **kwargs: object) -> Response:
        """Read the planned points in order, and the pattern they were last laid out by."""
        return Response(serializers.SurveyPlanSerializer(self.plan()).data)

    @extend_schema(
        summary="Lay out a survey's plan",
        description="Plan points by a pattern, at whole cm, clear of rock. They replace "
        "those planned before that have no reading yet, or are added after "
        "them.",
        request=serializers.PatternSerializer,
        responses=serializers.LaidOutSerializer,
        examples=A_GRID,
    )
    def lay_out(self, request: Request, **kwargs: object) -> Response:
        sent = self.sent()
        form: PlanForm = sent["form"]
        try:
            new = plan_as_wished(survey=self.survey, form=form, places=sent["places"])
        except TooManyPoints as problem:
            raise ValidationError({"pattern": [str(problem)]}) from None
        result = self.plan() | {"new": new, "left_out": sent["left_out"]}
        return Response(serializers.LaidOutSerializer(result).data)

    @extend_schema(
        summary="Preview a pattern of points",
        description="See which points a pattern gives. Nothing is stored. You must be "
        "allowed to plan them, with a token that may write.",
        request=serializers.PatternSerializer,
        responses=serializers.ProposalSerializer,
        examples=A_GRID,
    )
    def look(self, request: Request, **kwargs: object) -> Response:
        sent = self.sent()
        result = {"points": serializers.place_rows(sent["places"]), "left_out": sent["left_out"]}
        return Response(serializers.ProposalSerializer(result).data)

    @extend_schema(
        summary="Empty a survey's plan",
        operation_id="tanks_surveys_plan_empty",
        responses={204: None},
    )
    def empty(self, request: Request, **kwargs: object) -> Response:
        """Delete all planned points. Readings taken at them stay."""
        with transaction.atomic():
            lock_survey(self.survey).planned_points.all().delete()
        return Response(status=204)

    @extend_schema(summary="Delete one planned point", responses={204: None})
    def remove(self, request: Request, number: int, **kwargs: object) -> Response:
        """Delete a planned point by its number. A reading taken there stays."""
        get_object_or_404(self.survey.planned_points, number=number).delete()
        return Response(status=204)

    def sent(self) -> dict:
        """Return the `form` and the `places` of what was sent, or raise ValidationError."""
        context = self.get_serializer_context() | {"survey": self.survey}
        serializer = serializers.PatternSerializer(data=self.request.data, context=context)
        serializer.is_valid(raise_exception=True)
        return serializer.validated_data

    def plan(self) -> dict[str, object]:
        """Return the plan as it stands."""
        self.survey.refresh_from_db(fields=["plan_asked"])
        wishes = serializers.wishes_of(self.survey.plan_asked)
        return {"points": points_with_values(self.survey), "laid_out_by": wishes}
