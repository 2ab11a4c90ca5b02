"""Out and in for programs: a zip sent and brought in, and one written, each as a job."""

from django.db import transaction
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers, status, viewsets
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from apps.common.programs.idempotency import OnceMixin
from apps.common.programs.serializers import RefusesUnknown
from apps.later.job_api import JobSerializer, answer_job, led_to_job
from apps.tanks.models import Tank
from apps.transfer.archive.arrivals import stored_zip
from apps.transfer.archive.form import UnfitZip
from apps.transfer.archive.forms import ArrivalForm
from apps.transfer.archive.jobs import (
    SEND_LATER,
    UnderWay,
    place_zip,
    put_down_export,
    put_down_import,
)
from apps.transfer.models import Arrival


class ImportUnderWay(APIException):
    status_code = status.HTTP_409_CONFLICT
    default_detail = SEND_LATER
    default_code = "import_under_way"


class ImportSerializer(RefusesUnknown, serializers.Serializer):
    """A zip made by reeflog, here or elsewhere, of one tank or a whole account."""

    file = serializers.FileField(
        allow_empty_file=True, error_messages={"required": "Choose a zip file."}
    )

    def validate(self, attrs: dict) -> dict:
        form = ArrivalForm(files=attrs)
        if not form.is_valid():
            raise serializers.ValidationError(
                {name: list(texts) for name, texts in form.errors.items()}
            )
        return attrs


DONE = {
    "key": "0b6f5b0e-6d1c-4a54-9b43-6a1a52f1f0c5", "kind": "bring_in_zip", "title": "Import a zip",
    "state": "done", "progress": None, "made_at": "2026-05-01T10:00:00Z",
    "ended_at": "2026-05-01T10:00:04Z", "outcome": {"tanks": [12], "photos": 3}, "problem": "",
    "file": None,
}  # fmt: skip
FOLLOWED = "Follow the job at `Location` for its progress and result. "


class ImportViewSet(OnceMixin, viewsets.GenericViewSet):
    """Zips of tanks or accounts to import."""

    parser_classes = [MultiPartParser]
    serializer_class = ImportSerializer

    @extend_schema(
        summary="Import a zip",
        responses={202: JobSerializer},
        description="Send the zip of a tank or of a whole account, made by reeflog here or "
        f"elsewhere. {FOLLOWED}When done, it names the `tanks` it made. A zip that is refused, at "
        "once or as a failed job, says why and stores nothing. Only one of your zips is imported "
        "at a time; another gets 409 until it is done.",
        examples=[OpenApiExample("Once it is in", DONE, response_only=True)],
    )
    def create(self, request: Request) -> Response:
        """Store the zip, then keep it and put its job down, or refuse it as the page does."""
        serializer = self.get_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        try:
            with stored_zip(file=serializer.validated_data["file"], by=request.user) as arrival:
                response = self.made_once(request, lambda: self.take(arrival))
        except UnfitZip as problem:
            raise ValidationError({"file": [str(problem)]}) from None
        except UnderWay:
            raise ImportUnderWay from None
        return led_to_job(response, request)

    @transaction.atomic
    def take(self, arrival: Arrival) -> Response:
        """Keep a stored zip and put its job down."""
        place_zip(arrival)
        return answer_job(put_down_import(arrival), self.request)


class ExportSerializer(RefusesUnknown, serializers.Serializer):
    """Which zip to write."""

    tank = serializers.PrimaryKeyRelatedField(
        queryset=Tank.objects.none(),
        required=False,
        allow_null=True,
        help_text="One of your own tanks. Left out or null: your whole account.",
    )

    def get_fields(self) -> dict:
        fields = super().get_fields()
        request = self.context.get("request")
        if request and request.user.is_authenticated:
            fields["tank"].queryset = Tank.objects.present().filter(owner=request.user)
        return fields


class ExportViewSet(OnceMixin, viewsets.GenericViewSet):
    """Zips of a tank or a whole account to download."""

    serializer_class = ExportSerializer

    @extend_schema(
        summary="Export a zip",
        responses={202: JobSerializer},
        description=f"Write a tank or your whole account as one zip. {FOLLOWED}When done, it "
        "gives the `file`, kept for a week. The token must be allowed to write.",
        examples=[OpenApiExample("One tank", {"tank": 12}, request_only=True)],
    )
    def create(self, request: Request) -> Response:
        return led_to_job(self.made_once(request, lambda: self.write(request)), request)

    def write(self, request: Request) -> Response:
        """Put the job down; one that is under way for the same zip is enough."""
        serializer = self.get_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        job = put_down_export(request.user, serializer.validated_data.get("tank"))
        return answer_job(job, request)
