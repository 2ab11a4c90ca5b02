"""The form field for a table sent as a file."""

from django import forms

from apps.photics.limits import IMPORT_BYTES_MAX
from apps.surveys.tables.importing import TOO_LARGE, UnreadableTable, decode_table


class TableFileField(forms.FileField):
    """A text file of a spreadsheet; cleans to its text, "" without a file."""

    def __init__(self, **kwargs):
        super().__init__(required=False, allow_empty_file=True, **kwargs)

    def clean(self, data, initial=None):
        file = super().clean(data, initial)
        if file is None:
            return ""
        if file.size > IMPORT_BYTES_MAX:
            raise forms.ValidationError(TOO_LARGE)
        try:
            return decode_table(file.read())
        except UnreadableTable as problem:
            raise forms.ValidationError(str(problem)) from None
