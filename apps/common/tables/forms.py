"""A table in a form: as a file, or pasted with the lines that are still to be mended."""

from django import forms

from apps.common.tables.reading import TOO_LARGE, UnreadableTable, decode_table
from apps.photics.limits import IMPORT_BYTES_MAX


class TableFileField(forms.FileField):
    """A text file of a spreadsheet; cleans to its text, "" without a file."""

    def __init__(self, **kwargs: object) -> None:
        super().__init__(required=False, allow_empty_file=True, **kwargs)

    def clean(self, data: object, initial: object = None) -> str:
        file = super().clean(data, initial)
        if file is None:
            return ""
        if file.size > IMPORT_BYTES_MAX:
            raise forms.ValidationError(TOO_LARGE)
        try:
            return decode_table(file.read())
        except UnreadableTable as problem:
            raise forms.ValidationError(str(problem)) from None


def pasted_lines(label: str, *, rows: int, help_text: str = "") -> forms.CharField:
    """Return the field of a pasted table."""
    # Not trimmed: a line that begins with a tab has an empty first cell.
    return forms.CharField(
        label=label,
        required=False,
        strip=False,
        help_text=help_text,
        widget=forms.Textarea(attrs={"rows": rows, "spellcheck": "false", "autocomplete": "off"}),
    )


class TableForm(forms.Form):
    """A table, pasted or from a file; `bad` are its lines to be mended, below the good ones."""

    text = pasted_lines("Paste the table here", rows=10)
    bad = pasted_lines("The lines that can't be read yet", rows=6)
    file = TableFileField(label="Or choose a file")

    def whole_text(self) -> str:
        """Return all lines: the file's, or those good so far and those that were not."""
        data = self.cleaned_data
        return data["file"] or "\n".join(filter(None, [data["text"], data["bad"]]))

    def first_number(self) -> int:
        """Return the first line's number: good lines stand unseen above the box that is seen."""
        data = self.cleaned_data
        unseen = data["text"] if data["bad"] and not data["file"] else ""
        return -unseen.replace("\r\n", "\n").count("\n") if unseen else 1

    def table_field(self) -> str:
        """Return the field that the table came by."""
        return "file" if self.cleaned_data["file"] else "text"
