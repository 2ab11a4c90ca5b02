"""A table in a form: as a file, or pasted with the lines that are still to be mended."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.html import format_html

from apps.common.tables.reading import UnreadableTable, too_large
from apps.common.tables.workbook import TableText, read_table_file
from apps.photics.limits import IMPORT_BYTES_MAX, IMPORT_LINES_MAX

TABLE_FILES = ".csv,.txt,.tsv,.xlsx,.ods,text/csv,text/plain"


class TableFileInput(forms.FileInput):
    """A file with, beside it, the sheet that is meant where a workbook has several."""

    def __init__(self) -> None:
        super().__init__(attrs={"accept": TABLE_FILES})

    def value_from_datadict(
        self, data: Mapping[str, str], files: Mapping[str, object], name: str
    ) -> object:
        file: Any = super().value_from_datadict(data, files, name)
        if file is not None:
            file.sheet = data.get(f"{name}_sheet", "").strip()
        return file

    def render(
        self,
        name: str,
        value: object,
        attrs: dict[str, object] | None = None,
        renderer: object = None,
    ) -> str:
        return format_html(
            '{}<label class="file-sheet"><span>Sheet, if not the first</span>'
            '<input type="text" name="{}_sheet" maxlength="100" autocomplete="off"></label>',
            super().render(name, value, attrs, renderer),
            name,
        )


class TableFileField(forms.FileField):
    """A text file or a workbook of a spreadsheet; cleans to its TableText, empty without one."""

    widget = TableFileInput

    def __init__(
        self,
        *,
        lines_max: int = IMPORT_LINES_MAX,
        bytes_max: int = IMPORT_BYTES_MAX,
        **kwargs: object,
    ) -> None:
        self.lines_max, self.bytes_max = lines_max, bytes_max
        super().__init__(required=False, allow_empty_file=True, **kwargs)

    def clean(self, data: object, initial: object = None) -> TableText:
        file = super().clean(data, initial)
        if file is None:
            return TableText()
        if file.size > self.bytes_max:
            raise forms.ValidationError(too_large(self.bytes_max))
        try:
            return read_table_file(
                file.read(),
                sheet=getattr(file, "sheet", ""),
                lines_max=self.lines_max,
                bytes_max=self.bytes_max,
            )
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
    file = TableFileField(label="Or choose a file", help_text="A spreadsheet (.xlsx, .ods) or CSV.")

    def whole_text(self) -> str:
        """Return all lines: the file's, or those good so far and those that were not."""
        data = self.cleaned_data
        return data["file"].text or "\n".join(filter(None, [data["text"], data.get("bad")]))

    def first_number(self) -> int:
        """Return the first line's number: good lines stand unseen above the box that is seen."""
        data = self.cleaned_data
        unseen = data["text"] if data.get("bad") and not data["file"].text else ""
        return -unseen.replace("\r\n", "\n").count("\n") if unseen else 1

    def table_field(self) -> str:
        """Return the field that the table came by: an empty file, too, if nothing was pasted."""
        data = self.cleaned_data
        is_file = data["file"].text or ("file" in self.files and not data["text"].strip())
        return "file" if is_file else "text"

    def sheet_words(self) -> str:
        """Return which sheet of the file was read where it has several, else ""."""
        file: TableText = self.cleaned_data["file"]
        return file.sheet_words()
