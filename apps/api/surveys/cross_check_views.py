"""Two surveys of a tank with two meters of the keeper's own, kept as a check of the first meter."""

from django.core.exceptions import ValidationError as Unsound
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse

from apps.api.serializers import MeterCheckSerializer
from apps.api.surveys.of_survey import OfSurveyViewSet
from apps.common.programs.idempotency import OnceMixin
from apps.common.programs.serializers import RefusesUnknown, api_messages
from apps.surveys.meters.cross_check import check_of, chosen_partner, is_of_own_meters
from apps.surveys.meters.following import keep_check
from apps.surveys.models import MeterCheck

NO_PARTNER = "Name another survey of this tank that read the same light."
NOT_OWN = "It takes two surveys with two of your own meters."


class CrossCheckSerializer(RefusesUnknown, serializers.Serializer):
    """The survey that another is held against."""

    other = serializers.IntegerField(
        min_value=1, help_text="A survey of the same tank, taken with another of your meters."
    )


class CrossCheckViewSet(OnceMixin, OfSurveyViewSet):
    """Comparisons of two surveys where both read."""

    serializer_class = CrossCheckSerializer

    @extend_schema(
        summary="Keep a cross-check of two meters",
        description="Keep what two surveys of one tank showed at the same places as a "
        "check of this survey’s meter against the other’s. Read or delete it "
        "among that meter’s checks.",
        responses={201: MeterCheckSerializer},
        examples=[OpenApiExample("Against another survey", {"other": 12}, request_only=True)],
    )
    def create(self, request: Request, **kwargs: object) -> Response:
        response = self.made_once(request, lambda: self.keep(request))
        # By the check: since its first answer the survey may have got another meter, or none.
        check = MeterCheck._base_manager.filter(pk=response.data["id"]).first()
        if check is not None:
            place = [check.meter_id, check.pk]
            response["Location"] = reverse("api-meter-check-detail", args=place, request=request)
        return response

    def keep(self, request: Request) -> Response:
        """Keep the check, or say why it is none."""
        serializer = self.get_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        partner = chosen_partner(self.survey, str(serializer.validated_data["other"]))
        if partner is None:
            raise ValidationError({"other": [NO_PARTNER]})
        if not is_of_own_meters(request.user, self.survey, partner):
            raise ValidationError({"other": [NOT_OWN]})
        check = check_of(self.survey, partner)
        try:
            check.full_clean()
        except Unsound as problem:
            raise ValidationError(api_messages(problem)) from None
        keep_check(check)
        return Response(MeterCheckSerializer(check).data, status=201)
