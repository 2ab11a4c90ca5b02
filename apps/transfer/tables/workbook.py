"""All tables of a tank as one workbook (xlsx): a sheet a table, explained in the first."""

import datetime as dt
import io
from collections.abc import Sequence

import xlsxwriter
from xlsxwriter.worksheet import Worksheet

from apps.tanks.models import Tank
from apps.transfer.tables.table import Cell, Table

# A sheet holds no more; a tank of ours stays far below.
LINES_MOST = 1_048_000
HEAD_WIDTH = 16


def write_workbook(tables: Sequence[Table], tank: Tank) -> bytes:
    """Return the bytes of an xlsx file. Texts are texts there: none is run as a formula."""
    out = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with xlsxwriter.Workbook(out, options) as book:
        bold = book.add_format({"bold": True})
        dates = book.add_format({"num_format": "yyyy-mm-dd"})
        moments = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
        _explain(book.add_worksheet("columns"), tables, bold)
        for table in tables:
            sheet = book.add_worksheet(table.name)
            sheet.freeze_panes(1, 0)
            sheet.set_column(0, len(table.columns) - 1, HEAD_WIDTH)
            for at, column in enumerate(table.columns):
                sheet.write_string(0, at, column.name, bold)
            for line, row in enumerate(table.rows(tank), start=1):
                if line > LINES_MOST:
                    break
                for at, value in enumerate(row):
                    _write(sheet, line, at, value, dates, moments)
    return out.getvalue()


def _explain(sheet: Worksheet, tables: Sequence[Table], bold: object) -> None:
    for at, head in enumerate(("sheet", "column", "unit", "means")):
        sheet.write_string(0, at, head, bold)
    lines = ((table, column) for table in tables for column in table.columns)
    for line, (table, column) in enumerate(lines, start=1):
        for at, words in enumerate((table.name, column.name, column.unit, column.means)):
            sheet.write_string(line, at, words)
    sheet.set_column(0, 2, HEAD_WIDTH)
    sheet.set_column(3, 3, 60)


def _write(
    sheet: Worksheet, line: int, at: int, value: Cell, dates: object, moments: object
) -> None:
    if value is None or value == "":
        return
    if isinstance(value, bool):
        sheet.write_boolean(line, at, value)
    elif isinstance(value, dt.datetime):
        # A workbook knows no time zones: moments stand in UTC, as the first sheet says.
        sheet.write_datetime(line, at, value.astimezone(dt.UTC).replace(tzinfo=None), moments)
    elif isinstance(value, dt.date):
        sheet.write_datetime(line, at, dt.datetime(value.year, value.month, value.day), dates)
    elif isinstance(value, int | float):
        sheet.write_number(line, at, value)
    else:
        sheet.write_string(line, at, value)
