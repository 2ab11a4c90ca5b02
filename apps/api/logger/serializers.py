"""Logger series in JSON: where the logger was, and what it saw."""

from rest_framework import serializers

from apps.api.logger.samples import SamplesField
from apps.common.programs.serializers import RefusesUnknown, WholeModelSerializer
from apps.common.tables.date_order import DateOrder
from apps.lightmap.channels.log_forms import LoggedSeriesForm
from apps.photics.ground.lengths import CM
from apps.surveys.models import LoggedSeries

PLACE = ["label", "x_cm", "y_cm", "depth_cm", "correction_factor"]


class LoggedSeriesHeadSerializer(WholeModelSerializer):
    """A logger series in a list: everything but its samples."""

    class Meta:
        model = LoggedSeries
        fields = ["id", *PLACE, "created_at"]
        read_only_fields = ["created_at"]


class LoggedSeriesSerializer(LoggedSeriesHeadSerializer):
    """A logger's readings at one spot. A long series is kept as means over even steps."""

    samples = SamplesField(help_text="As the logger wrote them, before `correction_factor`.")

    class Meta(LoggedSeriesHeadSerializer.Meta):
        fields = ["id", *PLACE, "samples", "created_at"]


class BadLineSerializer(serializers.Serializer):
    """A line that could not be read, and why."""

    number = serializers.IntegerField()
    problem = serializers.CharField()


class ReadLogSerializer(LoggedSeriesHeadSerializer):
    """A series made from a file, and how much of the file was read."""

    kept = serializers.IntegerField(help_text="Samples kept.")
    given = serializers.IntegerField(help_text="Samples in the file.")
    thinned_min = serializers.IntegerField(
        help_text="Minutes each kept mean spans; 0: all samples kept."
    )
    repeated = serializers.IntegerField(help_text="Lines left out because their time came before.")
    bad = BadLineSerializer(many=True, help_text="Lines that could not be read.")

    class Meta(LoggedSeriesHeadSerializer.Meta):
        fields = ["id", *PLACE, "kept", "given", "thinned_min", "repeated", "bad", "created_at"]


class LogFileSerializer(RefusesUnknown, serializers.Serializer):
    """A logger's file: a time and a PAR value a line, as CSV, xlsx or ods."""

    label = serializers.CharField()
    x_cm = serializers.FloatField()
    y_cm = serializers.FloatField()
    depth_cm = serializers.FloatField()
    correction_factor = serializers.FloatField(required=False)
    file = serializers.FileField(allow_empty_file=True)
    file_sheet = serializers.CharField(
        required=False, help_text="The sheet of a workbook, if not the first."
    )
    dates = serializers.ChoiceField(
        [(order.value, f"{order.value} first") for order in DateOrder],
        required=False,
        help_text="What comes first in dates such as 3/4/2026, if no line makes it clear.",
    )

    def validate(self, attrs: dict) -> dict:
        """Have the form of the page read it, in cm."""
        request, fixed = self.context["request"], self.context["fixed"]
        data = {"correction_factor": "1"} | {n: v for n, v in request.data.items() if n != "file"}
        form = LoggedSeriesForm(
            data, {"file": attrs["file"]}, instance=LoggedSeries(**fixed), unit=CM
        )
        if not form.is_valid() or form.parsed is None:
            errors = {name: list(texts) for name, texts in form.errors.items()}
            raise serializers.ValidationError(errors or {"file": ["This can't be read."]})
        return {"form": form}

    def create(self, validated_data: dict) -> LoggedSeries:
        form = validated_data["form"]
        series, parsed = form.save(), form.parsed
        series.kept, series.given = len(parsed.samples), parsed.given
        series.thinned_min, series.repeated = parsed.thinned_min, parsed.repeated
        series.bad = parsed.bad
        return series
