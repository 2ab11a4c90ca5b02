"""The form of an import of readings: a table, and what the keeper says of it."""

from django import forms

from apps.common.tables.decimal_mark import DecimalMarkField
from apps.common.tables.forms import TableForm
from apps.common.units import UNIT_CHOICES
from apps.surveys.models import Survey
from apps.surveys.tables.importing import COLUMNS_MOST, ParsedTable, parse_table
from apps.surveys.tables.survey_days import only_day
from apps.surveys.tables.typed_rows import COLUMNS
from apps.surveys.tables.wide_tables import unfold_wide


class ImportForm(TableForm):
    ADD, REPLACE = "add", "replace"

    unit = forms.ChoiceField(label="Lengths without a unit are in", choices=UNIT_CHOICES)
    mark = DecimalMarkField()
    how = forms.ChoiceField(
        label="What to do with the readings this survey has",
        choices=[(ADD, "keep them and add these"), (REPLACE, "replace them with these")],
    )

    # Which of the days that a table holds is this survey's; "" while it was not said.
    day = forms.DateField(required=False, widget=forms.HiddenInput)

    def whole_text(self) -> str:
        text = super().whole_text()
        text = unfold_wide(text) or text
        day = self.cleaned_data["day"]
        return only_day(text, day) if day else text

    def match(self) -> dict[str, int] | None:
        """Return which column is which as said by hand: {column: index}, or None if unsaid."""
        said = {self.data.get(f"column{at}"): at for at in reversed(range(COLUMNS_MOST))}
        return {name: at for name, at in said.items() if name in COLUMNS} or None

    def parse(self, survey: Survey) -> ParsedTable:
        """Return the ParsedTable. Lines are numbered as in the box the keeper sees."""
        data = self.cleaned_data
        return parse_table(
            self.whole_text(),
            survey=survey,
            unit=data["unit"],
            first_number=self.first_number(),
            match=self.match(),
            mark=data["mark"],
        )
