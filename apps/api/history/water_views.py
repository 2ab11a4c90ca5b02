"""The water log as a table: looked at and added by the rules of its page."""

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import viewsets
from rest_framework.exceptions import NotFound, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.history import water_serializers as serializers
from apps.api.sent_tables import A_JOB, LOOKED_AT, NOT_READ, SentTableMixin, either, refused
from apps.api.views import FixedParentMixin
from apps.common.tables.reading import UnreadableTable, table_lines
from apps.corals.models import WaterEvent
from apps.corals.water.forms import WaterImportForm
from apps.corals.water.importing import ParsedEvents
from apps.corals.water.large import ADD, CHECK, SentLines, preview, put_down_lines, sent_before
from apps.corals.water.logging import add_water_events
from apps.later.job_api import JobSerializer, answer_job, led_to_job

REQUEST = either(serializers.WaterTextSerializer, serializers.WaterFileSerializer)
LINES = {"text": "date;kind;value;unit\n2026-03-01;alkalinity;8,2;dKH"}
NO_ENTRY = "No line can be read as an entry. {}"


class WaterTableViewSet(SentTableMixin, FixedParentMixin, viewsets.GenericViewSet):
    """Tables of the water log, read as on its import page."""

    makes = ("add",)
    queryset = WaterEvent.objects.none()
    serializer_class = serializers.ReadWaterSerializer
    filter_backends: tuple[type, ...] = ()
    pagination_class = None
    text_serializer = serializers.WaterTextSerializer
    file_serializer = serializers.WaterFileSerializer

    @extend_schema(
        summary="Preview a table of the water log",
        description="See what would be added, and which lines can’t be read and why. "
        f"{LOOKED_AT} {A_JOB}Once that job is done, read the table here with the job’s key.",
        request=REQUEST,
        responses={200: serializers.ReadWaterSerializer, 202: JobSerializer},
        examples=[OpenApiExample("Lines", LINES, request_only=True)],
    )
    def look(self, request: Request, **kwargs: object) -> Response:
        form, lines = self.lines()
        try:
            table_lines(lines.text)
            if lines.is_long(to_add=False):
                job = put_down_lines(CHECK, tank=self.tank, sent=lines, by=request.user)
                return led_to_job(answer_job(job, request), request)
            shown = preview(lines.parsed(self.tank), self.tank)
        except UnreadableTable as problem:
            raise ValidationError({form.table_field(): [str(problem)]}) from None
        return answer_read(shown, lines.sheet_words)

    @extend_schema(
        summary="Read the preview of a water-log table that a job made",
        responses=serializers.ReadWaterSerializer,
    )
    def looked(self, request: Request, key: object, **kwargs: object) -> Response:
        """Read what a job found in a table that you sent to be looked at."""
        before = sent_before(str(key), tank=self.tank, by=request.user)
        if before is None or before[1].preview is None:
            raise NotFound(NOT_READ)
        return answer_read(dict(before[1].preview), before[1].sheet_words)

    @extend_schema(
        summary="Import a table of the water log",
        description="Add the entries that the log does not hold yet: the same table sent twice "
        f"adds nothing. Lines that can’t be read are left out and named. {A_JOB}When done, it "
        "gives how many entries were `added` and `known`, and how many lines are `left`.",
        request=REQUEST,
        responses={200: serializers.AddedWaterSerializer, 202: JobSerializer},
        examples=[OpenApiExample("Lines", LINES, request_only=True)],
    )
    def add(self, request: Request, **kwargs: object) -> Response:
        before = self.answered_before(request)
        if before is not None:
            return located(before, request)
        form, lines = self.lines()
        try:
            table_lines(lines.text)
            # Read before any row is locked.
            parsed = None if lines.is_long(to_add=True) else lines.parsed(self.tank)
        except UnreadableTable as problem:
            raise ValidationError({form.table_field(): [str(problem)]}) from None
        if parsed is not None and not parsed.good:
            why = f"Line {parsed.bad[0].number}: {parsed.bad[0].problem}" if parsed.bad else ""
            raise ValidationError({form.table_field(): [NO_ENTRY.format(why).strip()]})
        response = self.made_once(request, lambda: self.write(lines, parsed))
        return located(response, request)

    def lines(self) -> tuple[WaterImportForm, SentLines]:
        """Return the form of what was sent, and its lines with what is said of them."""
        form: WaterImportForm = self.sent()["form"]
        dates = form.cleaned_data["dates"]
        return form, SentLines(form.whole_text(), dates=dates, sheet_words=form.sheet_words())

    def write(self, lines: SentLines, parsed: ParsedEvents | None) -> Response:
        """Add what was read; lines that were not read yet are added by a job."""
        by = self.request.user
        if parsed is None:
            job = put_down_lines(ADD, tank=self.tank, sent=lines, by=by)
            return answer_job(job, self.request)
        events = parsed.thinned.events
        added = add_water_events(tank=self.tank, events=events, by=by)
        result = {"added": added, "known": len(events) - added}
        result |= {"bad": len(parsed.bad), "refused": refused(parsed.bad)}
        return Response(serializers.AddedWaterSerializer(result).data)


def located(response: Response, request: Request) -> Response:
    """Return the answer to an import; where a job does it, with the address of that."""
    return led_to_job(response, request) if response.status_code == 202 else response


def answer_read(shown: dict, sheet: str) -> Response:
    """Return the answer that says what a table holds."""
    return Response(serializers.ReadWaterSerializer(shown | {"sheet": sheet}).data)
