"""The form of an import of history: a table, and what the keeper says of it."""

import re
from collections.abc import Mapping

from django import forms
from django.http import QueryDict

from apps.common.tables.date_order import DateOrderField
from apps.common.tables.forms import TableFileField, TableForm, pasted_lines
from apps.common.units import UNIT_CHOICES
from apps.corals.history.columns import COLUMNS_MOST
from apps.corals.history.table import Answers
from apps.photics.ground.lengths import CM

_KEY = re.compile(r"^[0-9]{1,9}$")


class HistoryForm(TableForm):
    """Of a file only the text comes back with the answers, so it stands in the box from then on."""

    data: QueryDict
    file = TableFileField(label="Choose a file", help_text="A spreadsheet (.xlsx, .ods) or CSV.")
    text = pasted_lines("Or paste the table", rows=6)
    bad = None
    dates = DateOrderField()
    unit = forms.ChoiceField(
        label="Lengths without a unit are in", choices=UNIT_CHOICES, required=False
    )
    source = forms.CharField(required=False, max_length=200, widget=forms.HiddenInput)

    def clean_unit(self) -> str:
        return self.cleaned_data["unit"] or CM

    def source_name(self) -> str:
        """Return the name of the file the table came by."""
        file = self.files.get("file")
        return str(file.name) if file else str(self.cleaned_data["source"])

    def answers(self) -> Answers:
        """Return what is said of the table; of a file chosen anew nothing is said yet."""
        data = self.cleaned_data
        if data["file"].text:
            return Answers(dates=data["dates"], length_unit=data["unit"])
        sent = self.data
        columns = range(COLUMNS_MOST)
        return Answers(
            roles={at: sent[f"column{at}"] for at in columns if f"column{at}" in sent},
            units={at: sent[f"unit{at}"].strip() for at in columns if f"unit{at}" in sent},
            dates=data["dates"],
            length_unit=data["unit"],
            names=pairs(sent, "name"),
            names_rest=sent.get("names_rest", ""),
            signs=pairs(sent, "sign"),
            conditions=pairs(sent, "condition"),
            earlier=frozenset(int(pk) for pk in sent.getlist("earlier") if _KEY.match(pk)),
        )


def pairs(sent: QueryDict, name: str) -> Mapping[str, str]:
    """Return {what is asked: the answer} of the two lists of fields of one name."""
    keys, means = sent.getlist(name), sent.getlist(f"{name}_means")
    return {key: answer for key, answer in zip(keys, means, strict=False) if answer}
