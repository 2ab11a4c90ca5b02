"""Layouts over REST: a question sent, its answers back; nothing is stored."""

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from apps.lightmap.tank_json import FieldFileError
from apps.planning.layout_files.answers_json import find_layouts
from apps.planning.layout_files.question_json import question_of_data


class FindLayoutView(APIView):
    """Find layouts of fixtures for the zones of a tank: the question and answers of `find_layout`.

    The tank is described in the question, so it need not be one of the keeper's.
    """

    only_reads = True

    @extend_schema(request=OpenApiTypes.OBJECT, responses=OpenApiTypes.OBJECT)
    def post(self, request: Request) -> Response:
        """Return the answers to a question, or 400 with the key that is wrong."""
        try:
            layout = question_of_data(request.data)
        except FieldFileError as fault:
            raise ValidationError({fault.key or "question": [fault.cause]}) from fault
        return Response(find_layouts(layout.question))
