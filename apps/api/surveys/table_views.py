"""A survey's readings as a table: looked at, then added, by the rules of their page; and undone."""

import uuid

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers as drf
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.sent_tables import LOOKED_AT, REFUSED_MAX, SentTableMixin, either, refused
from apps.api.serializers import ChangedMeanwhile, SurveySerializer
from apps.api.surveys import table_serializers as serializers
from apps.api.surveys.of_survey import OfSurveyViewSet
from apps.common.tables.reading import UnreadableTable
from apps.photics.limits import SURVEY_READINGS_MAX
from apps.surveys.models import Survey
from apps.surveys.recording import InvalidRows, NothingToUndo, StaleSurvey, undo_last_save
from apps.surveys.tables.adding import add_table
from apps.surveys.tables.import_form import ImportForm
from apps.surveys.tables.importing import ParsedTable, UnsureColumns, seen_columns
from apps.surveys.tables.survey_days import days_of

WHICH_DAY = "This table covers {} days. Say which one is this survey’s."
NO_READING = "No line can be read as a reading. {}"
NO_SAVE = "There is no earlier save to go back to."
LINES = {"text": "x (cm);y (cm);depth (cm);PAR\n10;8;5;180\n30;8;5;468,5"}


class WhichDay(UnreadableTable):
    """The table covers several days."""


class ReadingTableViewSet(SentTableMixin, OfSurveyViewSet):
    """Tables of readings for one survey, read as on its import page."""

    makes = ("add",)
    text_serializer = serializers.ReadingTextSerializer
    file_serializer = serializers.ReadingFileSerializer
    serializer_class = serializers.ReadTableSerializer

    @extend_schema(
        summary="Preview a table of readings",
        description="See what would be added, how the columns are read, and which lines can’t be "
        f"read and why. {LOOKED_AT} Where `problem` is not empty, answer it by `day` or by the "
        f"`column_` fields and look again. At most {SURVEY_READINGS_MAX:,} readings and "
        f"{REFUSED_MAX} bad lines are listed; all are counted.",
        request=either(serializers.ReadingTextSerializer, serializers.ReadingFileSerializer),
        responses=serializers.ReadTableSerializer,
        examples=[OpenApiExample("Lines", LINES, request_only=True)],
    )
    def look(self, request: Request, **kwargs: object) -> Response:
        form = self.sent()["form"]
        try:
            parsed = self.parsed(form)
        except (UnsureColumns, WhichDay) as problem:
            return Response(serializers.ReadTableSerializer(unsure(form, problem)).data)
        return Response(serializers.ReadTableSerializer(seen(form, parsed)).data)

    @extend_schema(
        summary="Add a table of readings",
        description="Add the readings of a table to the survey, or let them replace those "
        "it has. Lines that can’t be read are left out and named in the "
        "answer. Preview the table first to see them.",
        request=either(serializers.AddedTextSerializer, serializers.AddedFileSerializer),
        responses=serializers.AddedReadingsSerializer,
        examples=[OpenApiExample("Lines", LINES, request_only=True)],
    )
    def add(self, request: Request, **kwargs: object) -> Response:
        before = self.answered_before(request)
        if before is not None:
            return before
        self.text_serializer = serializers.AddedTextSerializer
        self.file_serializer = serializers.AddedFileSerializer
        sent = self.sent()
        form = sent["form"]
        # Read before any row is locked.
        try:
            parsed = self.parsed(form)
        except UnsureColumns as problem:
            raise drf.ValidationError({"columns": [str(problem)]}) from None
        except WhichDay as problem:
            raise drf.ValidationError({"day": [str(problem)]}) from None
        if not parsed.good:
            why = f"Line {parsed.bad[0].number}: {parsed.bad[0].problem}" if parsed.bad else ""
            raise drf.ValidationError({form.table_field(): [NO_READING.format(why).strip()]})
        return self.made_once(request, lambda: self.write(parsed, sent))

    def write(self, parsed: ParsedTable, sent: dict) -> Response:
        """Add what was read, and answer what became of it."""
        try:
            survey, count = add_table(
                survey=self.survey,
                parsed=parsed,
                batch=sent.get("batch") or uuid.uuid4(),
                replaces=sent.get("replaces"),
                by=self.request.user,
            )
        except StaleSurvey:
            raise ChangedMeanwhile from None
        except InvalidRows as problem:
            raise drf.ValidationError({sent["form"].table_field(): problem.messages}) from None
        result = {"added": len(parsed.good), "reading_count": count, "version": survey.version}
        result |= {"bad": len(parsed.bad), "refused": refused(parsed.bad)}
        return Response(serializers.AddedReadingsSerializer(result).data)

    def parsed(self, form: ImportForm) -> ParsedTable:
        """Return what a table holds. Raises UnsureColumns, WhichDay, or refuses what is none."""
        try:
            days = days_of(form.whole_text())
            if len(days) > 1:
                raise WhichDay(WHICH_DAY.format(len(days)))
            return form.parse(self.survey)
        except (UnsureColumns, WhichDay):
            raise
        except UnreadableTable as problem:
            raise drf.ValidationError({form.table_field(): [str(problem)]}) from None


class SurveyUndoViewSet(OfSurveyViewSet):
    """The last save of a survey's readings, to be undone."""

    serializer_class = SurveySerializer

    @extend_schema(
        summary="Undo the last save of the readings",
        description="Bring back the readings from before the last save, whoever made it, "
        "by page or by program. Undo again to bring the newer ones back.",
        request=serializers.UndoSerializer,
        responses=SurveySerializer,
        examples=[OpenApiExample("The version read", {"version": 3}, request_only=True)],
    )
    def undo(self, request: Request, **kwargs: object) -> Response:
        serializer = serializers.UndoSerializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        version = serializer.validated_data["version"]
        try:
            undo_last_save(survey=self.survey, by=request.user, expected_version=version)
        except StaleSurvey:
            raise ChangedMeanwhile from None
        except NothingToUndo:
            raise drf.ValidationError({"version": [NO_SAVE]}) from None
        survey = Survey.objects.select_related("tank", "meter").prefetch_related("readings")
        row = survey.get(pk=self.survey.pk)
        return Response(SurveySerializer(row, context=self.get_serializer_context()).data)


def unsure(form: ImportForm, problem: UnreadableTable) -> dict[str, object]:
    """Return what is answered of a table of which something must be said first."""
    text = form.whole_text()
    days = days_of(text) if isinstance(problem, WhichDay) else {}
    return {
        "problem": str(problem),
        "columns": seen_columns(text, form.match()),
        "days": [{"day": day, "lines": lines} for day, lines in days.items()],
        "sheet": form.sheet_words(),
        "good": 0,
        "readings": [],
        "bad": 0,
        "refused": [],
    }


def seen(form: ImportForm, parsed: ParsedTable) -> dict[str, object]:
    """Return what is answered of a table that was read."""
    return {
        "problem": "",
        "columns": seen_columns(parsed.shown_text(), parsed.layout.places),
        "days": [],
        "sheet": form.sheet_words(),
        "good": len(parsed.good),
        "readings": parsed.good[:SURVEY_READINGS_MAX],
        "bad": len(parsed.bad),
        "refused": refused(parsed.bad),
    }
