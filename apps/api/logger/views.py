"""What loggers saw at one fixed point of a tank: brought in as rows or as a file, taken away."""

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_view
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.logger import serializers
from apps.api.views import FixedParentMixin, RemovingMixin
from apps.common.programs.idempotency import MAKING, ModelViewSet
from apps.surveys.models import LoggedSeries

ROWS = {
    "label": "Over the rock", "x_cm": 40, "y_cm": 25, "depth_cm": 20,
    "samples": [
        {"at": "2026-03-01T14:30:00+01:00", "par_umol": 212},
        {"at": "2026-03-01T14:40:00+01:00", "par_umol": 215.5},
    ],
}  # fmt: skip


@extend_schema_view(
    create=extend_schema(examples=[OpenApiExample("Two samples", ROWS, request_only=True)])
)
class LoggedSeriesViewSet(RemovingMixin, FixedParentMixin, ModelViewSet):
    """PAR logged over days at one spot of a tank.

    A list says where each logger was; a single series comes with its samples. A series can't be
    edited: to correct one, send it again and delete the old one.
    """

    http_method_names = ["get", "post", "delete", "head", "options"]
    makes = (*MAKING, "read_file")
    checks_long = True
    queryset = LoggedSeries.objects.none()

    def get_serializer_class(self):
        if self.action == "read_file":
            return serializers.LogFileSerializer
        in_list = self.action == "list"
        return (
            serializers.LoggedSeriesHeadSerializer
            if in_list
            else serializers.LoggedSeriesSerializer
        )

    def get_queryset(self) -> QuerySet:
        series = super().get_queryset()
        return series.defer("samples") if self.action == "list" else series

    def fixed(self) -> dict[str, object]:
        return super().fixed() | {"created_by": self.request.user}

    @extend_schema(
        summary="Import a logger's file",
        description="Send a logger's table as CSV, xlsx or ods: a time and a PAR value on each "
        "line; headings and other columns do no harm. A time without an offset is the tank's "
        "own clock.",
        responses={201: serializers.ReadLogSerializer},
    )
    @action(
        detail=False,
        methods=["post"],
        url_path="file",
        url_name="file",
        parser_classes=[MultiPartParser],
    )
    def read_file(self, request: Request, **kwargs: object) -> Response:
        return self.located(self.made_checked(request, self.kept))

    def kept(self, serializer: serializers.LogFileSerializer) -> Response:
        """Keep what the file says."""
        read = serializers.ReadLogSerializer(serializer.save())
        return Response(read.data, status=status.HTTP_201_CREATED)
