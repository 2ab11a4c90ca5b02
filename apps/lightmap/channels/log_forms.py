"""The form of a logger's series: its place, and the table of its values."""

from django import forms
from django.http import QueryDict

from apps.common.model_forms import WholeModelForm
from apps.common.tables.date_order import DateOrderField
from apps.common.tables.forms import TableFileField, pasted_lines
from apps.common.tables.reading import UnreadableTable
from apps.common.units import LengthField, NumberField
from apps.photics.limits import LOG_BYTES_MAX, LOG_LINES_MAX
from apps.surveys.meter_models import METER_FACTOR
from apps.surveys.models import LoggedSeries
from apps.surveys.tables.log_reading import ParsedLog, UnsureDates, parse_log

# A form's fields hold 5 MB together; a longer text comes as a file.
BOX_CHARS_MAX = 2_000_000


class LoggedSeriesForm(WholeModelForm, forms.ModelForm):
    data: QueryDict
    text = pasted_lines(
        "Paste the logger’s table",
        rows=8,
        help_text="One time and one PAR value per line, such as “2026-03-01 14:30;212”. Other "
        "columns are fine if the table has headings. Times are the tank’s own unless they carry "
        "an offset.",
    )
    file = TableFileField(
        label="Or choose its file", lines_max=LOG_LINES_MAX, bytes_max=LOG_BYTES_MAX
    )
    dates = DateOrderField()

    class Meta:
        model = LoggedSeries
        fields = ["label", "x_cm", "y_cm", "depth_cm", "correction_factor"]

    def __init__(self, *args: object, unit: str, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        tank = self.instance.tank
        names = {"x_cm": "From the left end", "y_cm": "From the front pane", "depth_cm": "Depth"}
        ends = {"x_cm": tank.length_cm, "y_cm": tank.width_cm, "depth_cm": tank.depth_cm}
        for name, label in names.items():
            self.fields[name] = LengthField(unit=unit, low_cm=0, high_cm=ends[name], label=label)
        low, high = METER_FACTOR
        self.fields["correction_factor"] = NumberField(
            label="Multiply readings by",
            low=low,
            high=high,
            help_text="1 if the logger corrects them.",
        )
        self.parsed: ParsedLog | None = None

    def clean(self) -> dict[str, object]:
        data: dict[str, object] = super().clean()
        if "file" in self.errors:
            return data
        file = self.files.get("file")
        text = getattr(data["file"], "text", "") if file else str(data.get("text") or "")
        dates = str(data.get("dates", ""))
        try:
            self.parsed = parse_log(text, zone=self.instance.tank.zone, dates=dates)
        except UnsureDates as problem:
            # A file is not sent again with the answer, so its text stands in the box.
            if len(text) <= BOX_CHARS_MAX:
                self.data = self.data.copy()
                self.data["text"] = text
            else:
                self.add_error("file", "It is too long for the box: choose the file again.")
            self.add_error("dates", str(problem))
        except UnreadableTable as problem:
            self.add_error("file" if file else "text", str(problem))
        else:
            self.instance.samples = [list(sample) for sample in self.parsed.samples]
        return data

    def _get_validation_exclusions(self) -> set[str]:
        # Without samples the text above has its own sentence.
        return super()._get_validation_exclusions() | (
            {"samples"} if self.parsed is None else set()
        )
