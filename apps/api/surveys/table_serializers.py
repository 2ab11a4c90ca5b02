"""Tables of readings in JSON: what is said of one, what it holds, and what became of it."""

from rest_framework import serializers

from apps.api.sent_tables import (
    FileTable,
    RefusedLineSerializer,
    Said,
    SentTableSerializer,
    TextTable,
)
from apps.common.programs.serializers import RefusesUnknown
from apps.common.tables.decimal_mark import COMMA, POINT
from apps.common.units import UNIT_CHOICES
from apps.photics.ground.lengths import CM
from apps.surveys.tables.import_form import ImportForm
from apps.surveys.tables.importing import COLUMNS_MOST
from apps.surveys.tables.typed_rows import COLUMNS

COLUMN = "column_"
MARKS = [("point", "point"), ("comma", "comma")]
SIGNS = {"point": POINT, "comma": COMMA}


def column(holds: str, *, is_needed: bool = True) -> serializers.IntegerField:
    """Return the field that says which column holds something."""
    needed = " Name all four, or none." if is_needed else ""
    return serializers.IntegerField(
        required=False,
        min_value=0,
        max_value=COLUMNS_MOST - 1,
        help_text=f"Which column holds {holds}, if the headings don’t say; the first is 0.{needed}",
    )


class ReadingTableSerializer(SentTableSerializer):
    """What is said of a table of readings beside its lines."""

    form_class = ImportForm

    unit = serializers.ChoiceField(
        UNIT_CHOICES,
        required=False,
        help_text="The unit of lengths that have none; cm if left out.",
    )
    decimal_mark = serializers.ChoiceField(
        MARKS, required=False, help_text="The decimal mark, if the table does not make it clear."
    )
    day = serializers.DateField(
        required=False, help_text="Which day is this survey’s, where the table covers several."
    )
    column_x = column("the distance from the left end")
    column_y = column("the distance from the front pane")
    column_depth = column("the depth below the surface")
    column_par = column("what the meter showed")
    column_spread = column("its spread", is_needed=False)

    def form_data(self, attrs: Said) -> dict[str, object]:
        data = {name: attrs[name] for name in ("text", "file_sheet", "day") if name in attrs}
        data |= {"unit": attrs.get("unit", CM), "how": ImportForm.ADD}
        data["mark"] = SIGNS.get(str(attrs.get("decimal_mark")), "")
        columns = {name: attrs[COLUMN + name] for name in COLUMNS if COLUMN + name in attrs}
        return data | {f"column{at}": name for name, at in columns.items()}


class ReadingTextSerializer(TextTable, ReadingTableSerializer):
    """Readings as the text of a table."""


class ReadingFileSerializer(FileTable, ReadingTableSerializer):
    """Readings as a file."""


class AddingSerializer(serializers.Serializer):
    """How readings are added."""

    replaces = serializers.IntegerField(
        required=False,
        min_value=0,
        help_text="The `version` of the survey whose readings they replace. If left out, "
        "they are added after those.",
    )
    batch = serializers.UUIDField(
        required=False,
        help_text="A mark of your own: the same table sent twice with one `batch` adds "
        "its readings once.",
    )


class AddedTextSerializer(AddingSerializer, ReadingTextSerializer):
    """Readings to add, as the text of a table."""


class AddedFileSerializer(AddingSerializer, ReadingFileSerializer):
    """Readings to add, as a file."""


class ColumnSerializer(serializers.Serializer):
    """A column of a table of readings."""

    index = serializers.IntegerField(help_text="The first is 0.")
    first = serializers.CharField(help_text="Its first cell: the heading, if there is one.")
    samples = serializers.CharField(help_text="Some cells below it.")
    holds = serializers.ChoiceField(
        [(name, spoken) for name, (_, spoken) in COLUMNS.items()],
        allow_blank=True,
        source="guess",
        help_text="What it is read as; empty if it is not used.",
    )


class DayLinesSerializer(serializers.Serializer):
    """A day that a table covers."""

    day = serializers.DateField()
    lines = serializers.IntegerField()


class TableReadingSerializer(serializers.Serializer):
    """A reading of a table: where [cm], and what the meter showed [umol m-2 s-1, or lux]."""

    line = serializers.IntegerField(source="number")
    x_cm = serializers.FloatField(source="row.x_cm")
    y_cm = serializers.FloatField(source="row.y_cm")
    depth_cm = serializers.FloatField(source="row.depth_cm")
    value_umol = serializers.FloatField(source="row.value_umol")
    spread_umol = serializers.FloatField(source="row.spread_umol", allow_null=True)


class ReadTableSerializer(serializers.Serializer):
    """What a table of readings holds."""

    problem = serializers.CharField(
        help_text="What you must answer first: which column is which, or which day. "
        "Empty if nothing."
    )
    columns = ColumnSerializer(many=True)
    days = DayLinesSerializer(many=True, help_text="The days to choose from, if it covers several.")
    sheet = serializers.CharField(help_text="Which sheet was read, where the file has several.")
    good = serializers.IntegerField(help_text="Lines that would be added.")
    readings = TableReadingSerializer(many=True, help_text="What they hold.")
    bad = serializers.IntegerField(help_text="Lines that can’t be read.")
    refused = RefusedLineSerializer(many=True, help_text="The first of them.")


class AddedReadingsSerializer(serializers.Serializer):
    """What became of a table of readings."""

    added = serializers.IntegerField(help_text="Lines that were read.")
    reading_count = serializers.IntegerField(help_text="Readings of the survey now.")
    version = serializers.IntegerField(help_text="The version of the survey now.")
    bad = serializers.IntegerField(help_text="Lines that can’t be read and were left out.")
    refused = RefusedLineSerializer(many=True, help_text="The first of them.")


class UndoSerializer(RefusesUnknown, serializers.Serializer):
    """Which save of the readings to undo."""

    version = serializers.IntegerField(
        min_value=0,
        help_text="The `version` of the survey you read. If it was saved since, the answer is 409.",
    )
