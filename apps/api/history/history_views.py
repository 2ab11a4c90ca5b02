"""A tank's history as a table: looked at, answered, added and taken back, as on its page."""

import functools

from django.core.exceptions import ValidationError as Unsound
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_view
from rest_framework.decorators import action
from rest_framework.exceptions import NotFound, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.history import history_serializers as serializers
from apps.api.sent_tables import A_JOB, LOOKED_AT, NOT_READ, SentTableMixin, either, refused
from apps.api.views import FixedParentMixin, RemovingMixin
from apps.common.programs.idempotency import ModelViewSet
from apps.common.programs.serializers import api_messages
from apps.common.tables.reading import UnreadableTable, table_lines
from apps.corals.history.large import ADD, CHECK, put_down_table, sent_before
from apps.corals.history.preview import preview
from apps.corals.history.reading import NO_DATE, ReadHistory, read_history
from apps.corals.history.recording import TableToAdd, import_history, read_to_add
from apps.corals.history.sent import SentTable
from apps.corals.history_models import HistoryImport
from apps.later.job_api import JobSerializer, answer_job, led_to_job

REQUEST = either(serializers.HistoryTextSerializer, serializers.HistoryFileSerializer)
LINES = {
    "text": "Date;Alk (dKH);Red plate\n2026-03-01;8.2;good\n2026-03-02;8.3;pale",
    "names": {"redplate": "new:lps"},
}


@extend_schema_view(
    list=extend_schema(summary="List imports of history"),
    retrieve=extend_schema(summary="Read one import of history"),
    destroy=extend_schema(
        summary="Delete an import of history",
        description="Delete all it added that is still there. Corals that were used since "
        "then stay.",
    ),
)
class HistoryImportViewSet(SentTableMixin, RemovingMixin, FixedParentMixin, ModelViewSet):
    """Imports of a tank's history: notes, spots, sizes, water and light from one table."""

    http_method_names = ["get", "post", "delete", "head", "options"]
    queryset = HistoryImport.objects.none()
    serializer_class = serializers.HistoryImportSerializer
    text_serializer = serializers.HistoryTextSerializer
    file_serializer = serializers.HistoryFileSerializer

    def get_queryset(self):
        return super().get_queryset().select_related("created_by")

    @extend_schema(
        summary="Preview a table of history",
        description="See what would be added, how columns and words are read, and which lines "
        f"can’t be read and why. {LOOKED_AT} Answer what it asks and look again, or add. {A_JOB}"
        "Once that job is done, read the table at `look/` with the job’s key.",
        request=REQUEST,
        responses={200: serializers.ReadHistorySerializer, 202: JobSerializer},
        examples=[OpenApiExample("Lines", LINES, request_only=True)],
    )
    @action(detail=False, methods=["post"])
    def look(self, request: Request, **kwargs: object) -> Response:
        sent = self.sent()
        table: SentTable = sent["table"]
        try:
            table_lines(table.text)
            if table.is_long_to_read:
                job = put_down_table(CHECK, tank=self.tank, sent=table, by=request.user)
                return led_to_job(answer_job(job, request), request)
            history = read_history(table.text, tank=self.tank, answers=table.answers)
        except UnreadableTable as problem:
            raise ValidationError({sent["form"].table_field(): [str(problem)]}) from None
        return answer_read(preview(history, self.tank), table.sheet_words)

    @extend_schema(
        summary="Read the preview of a table of history that a job made",
        responses=serializers.ReadHistorySerializer,
    )
    def looked(self, request: Request, key: object, **kwargs: object) -> Response:
        """Read what a job found in a table that you sent to be looked at."""
        before = sent_before(str(key), tank=self.tank, by=request.user)
        if before is None or before[1].preview is None:
            raise NotFound(NOT_READ)
        return answer_read(dict(before[1].preview), before[1].sheet_words)

    @extend_schema(
        summary="Import a table of history",
        description="Add what is new in a table. Lines that can’t be read, or wait for an answer, "
        "are left out and named; send the table again with the answers and only they are added. "
        "Where nothing is new, the answer is 200 and nothing is stored. "
        f"{A_JOB}When done, it gives the `import_pk` and how many lines are `left`.",
        request=REQUEST,
        responses={
            200: serializers.AddedHistorySerializer,
            201: serializers.AddedHistorySerializer,
            202: JobSerializer,
        },
        examples=[OpenApiExample("Lines", LINES, request_only=True)],
    )
    def create(self, request: Request, *args: object, **kwargs: object) -> Response:
        before = self.answered_before(request)
        if before is not None:
            return self.located(before)
        sent = self.sent()
        table: SentTable = sent["table"]
        try:
            table_lines(table.text)
            if table.is_long_to_add:
                return self.located(self.made_once(request, lambda: self.add_behind(table)))
            # Before any transaction: nobody else waits for it.
            read = read_to_add(tank=self.tank, text=table.text, answers=table.answers)
            add = functools.partial(self.add, read, source=table.source)
            return self.located(self.made_once(request, add))
        except UnreadableTable as problem:
            raise ValidationError({sent["form"].table_field(): [str(problem)]}) from None

    def add_behind(self, table: SentTable) -> Response:
        """Let a job add what is new in a table."""
        job = put_down_table(ADD, tank=self.tank, sent=table, by=self.request.user)
        return answer_job(job, self.request)

    def add(self, table: TableToAdd, source: str) -> Response:
        """Add what is new in a table that was read."""
        by = self.request.user
        try:
            added, history = import_history(tank=self.tank, table=table, by=by, source=source)
        except Unsound as problem:
            raise ValidationError(api_messages(problem)) from None
        if history.problem:
            field = "columns" if history.problem == NO_DATE else "dates"
            raise ValidationError({field: [history.problem]})
        result = serializers.AddedHistorySerializer(added_row(added, history)).data
        return Response(result, status=201 if added else 200)

    def located(self, response: Response) -> Response:
        if response.status_code == 202:
            return led_to_job(response, self.request)
        if added := response.data["added"]:
            row = {"tank_pk": self.tank.pk, "pk": added["id"]}
            response["Location"] = self.reverse_action("detail", kwargs=row)
        return response


def answer_read(shown: dict, sheet: str) -> Response:
    """Return the answer that says what a table holds."""
    row = serializers.read_history_row(shown, sheet)
    return Response(serializers.ReadHistorySerializer(row).data)


def added_row(added: HistoryImport | None, history: ReadHistory) -> dict[str, object]:
    """Return what is answered of a table that was added."""
    return {
        "added": added,
        "known": len(history.entries) - len(history.new),
        "bad": len(history.bad),
        "refused": refused(history.bad),
        "waiting": len({line.number for line in history.waiting}),
    }
