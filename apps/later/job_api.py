"""A keeper's jobs for programs: how far each is, what came of it, and the file it made."""

import uuid
from collections.abc import Mapping, Sequence

from django.db.models import QuerySet
from django.http import FileResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, viewsets
from rest_framework.decorators import action
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse

from apps.common.programs.versions import TaggedMixin
from apps.later.kinds import kind_of
from apps.later.models import Job
from apps.later.progress import read_progress
from apps.later.views import answer_of, written_file


class ProgressSerializer(serializers.Serializer):
    """How many parts of how many are done."""

    done = serializers.IntegerField()
    of = serializers.IntegerField()
    what = serializers.CharField(help_text="What the parts are, if they have a name.")


class AnyForm(DefaultContentNegotiation):
    """A file is what it is, whatever its caller says they take."""

    def select_renderer(
        self,
        request: Request,
        renderers: Sequence[BaseRenderer],
        format_suffix: str | None = None,
    ) -> tuple[BaseRenderer, str]:
        return renderers[0], renderers[0].media_type


class JobHeadSerializer(serializers.ModelSerializer):
    """A job in a list: its progress and its result."""

    kind = serializers.CharField(source="name", read_only=True)
    title = serializers.SerializerMethodField(help_text="Its title on its page.")
    progress = serializers.SerializerMethodField(
        help_text="Null before it starts, after it ends, and when not known."
    )
    problem = serializers.CharField(
        read_only=True, help_text="Why it failed, in a sentence. A failed job stores nothing."
    )

    class Meta:
        model = Job
        fields = [
            "key", "kind", "title", "state", "progress", "made_at", "ended_at", "outcome",
            "problem",
        ]  # fmt: skip
        read_only_fields = fields

    def get_title(self, job: Job) -> str:
        return kind_of(job).title

    @extend_schema_field(ProgressSerializer(allow_null=True))
    def get_progress(self, job: Job) -> Mapping[str, object] | None:
        noted = None if job.has_ended else read_progress(str(job.key))
        return noted and dict(zip(("done", "of", "what"), noted, strict=True))


class JobSerializer(JobHeadSerializer):
    """Work that takes longer than a call: read it until `state` is done or failed.

    `outcome` gives ids and counts of what it made, such as the `tanks` of an import.
    """

    file = serializers.SerializerMethodField(
        help_text="The address of the file it made, kept for a week; null if there is none."
    )

    class Meta(JobHeadSerializer.Meta):
        fields = [*JobHeadSerializer.Meta.fields, "file"]
        read_only_fields = fields

    @extend_schema_field(OpenApiTypes.URI)
    def get_file(self, job: Job) -> str | None:
        answer = answer_of(job)
        if not (answer and answer.file_name and job.file):
            return None
        return str(reverse("api-job-file", args=[job.key], request=self.context.get("request")))


class JobViewSet(TaggedMixin, viewsets.ReadOnlyModelViewSet):
    """Your own jobs, newest first. They are deleted a week after they end.

    A single job also gives its file.
    """

    queryset = Job.objects.none()
    serializer_class = JobSerializer
    lookup_field = "key"
    lookup_value_converter = "uuid"
    filterset_fields = ["state"]

    def get_serializer_class(self) -> type[JobHeadSerializer]:
        return JobHeadSerializer if self.action == "list" else JobSerializer

    def get_queryset(self) -> QuerySet:
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return Job.objects.filter(keeper=self.request.user).order_by("-made_at", "-pk")

    @extend_schema(responses={(200, "application/octet-stream"): OpenApiTypes.BINARY})
    @action(detail=True, content_negotiation_class=AnyForm)
    def file(self, request: Request, key: uuid.UUID) -> FileResponse:
        """Download the file a job made."""
        return written_file(self.get_object())


def answer_job(job: Job, request: Request) -> Response:
    """Return the answer to a call that put a job down: 202 with the job."""
    return Response(JobSerializer(job, context={"request": request}).data, status=202)


def led_to_job(response: Response, request: Request) -> Response:
    """Return an answer that tells of a job with the job's address."""
    response["Location"] = reverse("api-job-detail", args=[response.data["key"]], request=request)
    return response
