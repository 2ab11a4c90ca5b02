"""A workbook (xlsx, ods) as the text of a table: all that reads tables then reads it too."""

import io
import json
import stat
import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from apps.common.tables.reading import (
    UnreadableTable,
    decode_table,
    too_large,
    too_many_lines,
)
from apps.photics.limits import IMPORT_BYTES_MAX, IMPORT_LINES_MAX, WORKBOOK_BYTES_MAX

ZIP, OLD_OFFICE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
SPREADSHEET_PARTS = ("xl/workbook.xml", "xl/workbook.bin", "content.xml")
PROCESS = Path(__file__).with_name("sheet_process.py")
# What one workbook may take of the machine: our own choice, above what the largest that
# WORKBOOK_BYTES_MAX lets in was seen to need.
MEMORY_MB, SECONDS = 768, 20
CELL_SIGN = "\t"
UNPACKED_TOO_LARGE = (
    f"Unpacked, this file has more than {WORKBOOK_BYTES_MAX / 1e6:g} MB. Nothing was read. "
    "Save the one sheet you want as CSV."
)
OLD = (
    "This is an old .xls file or one with a password. Save it as .xlsx, .ods or CSV without a "
    "password, then choose that file."
)
NO_SPREADSHEET = "This is no spreadsheet. Choose an .xlsx, .ods or CSV file."
DAMAGED = "This spreadsheet can't be opened: it is damaged. Save the sheet as CSV and try that."
TOO_WIDE = (
    "This spreadsheet can't be read: it has cells very far down or to the right, or is too large. "
    "Nothing was read. Copy the table alone into a new sheet, or save it as CSV."
)


@dataclass(frozen=True)
class TableText:
    """The text of a table; of a workbook also its sheet, and the other sheets it has."""

    text: str = ""
    sheet: str = ""
    other_sheets: tuple[str, ...] = ()

    def sheet_words(self) -> str:
        """Return which sheet was read where there was a choice, else ""."""
        if not self.other_sheets:
            return ""
        others = ", ".join(f"“{name}”" for name in self.other_sheets)
        return f"This is the sheet “{self.sheet}”. The file also has {others}."


def read_table_file(
    data: bytes,
    *,
    sheet: str = "",
    lines_max: int = IMPORT_LINES_MAX,
    bytes_max: int = IMPORT_BYTES_MAX,
) -> TableText:
    """Return the TableText of a file: CSV or other text, or one `sheet` of a workbook.

    Without a sheet's name it is the first that holds something. Raises UnreadableTable.
    """
    if data.startswith(OLD_OFFICE):
        raise UnreadableTable(OLD)
    if not data.startswith(ZIP):
        return TableText(decode_table(data, bytes_max=bytes_max))
    _refuse_unsafe(data, bytes_max)
    answer = _opened(data, sheet, lines_max)
    if answer.get("problem") == "sheet":
        names = ", ".join(f"“{name}”" for name in answer["sheets"])
        raise UnreadableTable(f"This file has no sheet “{sheet}”. It has {names}.")
    if problem := answer.get("problem"):
        raise UnreadableTable(OLD if problem == "password" else DAMAGED)
    rows = answer["rows"]
    if len(rows) > lines_max:
        raise UnreadableTable(too_many_lines(lines_max))
    text = "\n".join(CELL_SIGN.join(map(_quoted, cells)) for cells in rows)
    if len(text) > bytes_max:
        raise UnreadableTable(too_large(bytes_max))
    return TableText(text, answer["sheet"], tuple(answer["others"]))


def _refuse_unsafe(data: bytes, bytes_max: int) -> None:
    """Raise UnreadableTable for a zip that is no spreadsheet or grows too large when unpacked."""
    if len(data) > bytes_max:
        raise UnreadableTable(too_large(bytes_max))
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        raise UnreadableTable(DAMAGED) from None
    if not any(part.filename in SPREADSHEET_PARTS for part in parts):
        raise UnreadableTable(NO_SPREADSHEET)
    if any(stat.S_ISLNK(part.external_attr >> 16) for part in parts):
        raise UnreadableTable(NO_SPREADSHEET)
    # A file that lies about its sizes meets the memory of its process.
    if sum(part.file_size for part in parts) > WORKBOOK_BYTES_MAX:
        raise UnreadableTable(UNPACKED_TOO_LARGE)


def _opened(data: bytes, sheet: str, rows_max: int) -> dict[str, Any]:
    """Return what `sheet_process.py` answers, or raise UnreadableTable where it came to an end."""
    numbers = (str(number) for number in (rows_max, MEMORY_MB, SECONDS))
    try:
        done = subprocess.run(
            [sys.executable, "-I", str(PROCESS), sheet, *numbers],
            input=data,
            capture_output=True,
            timeout=2 * SECONDS,
            check=True,
        )
        answer: dict[str, Any] = json.loads(done.stdout)
    except (subprocess.CalledProcessError, subprocess.TimeoutExpired):
        raise UnreadableTable(TOO_WIDE) from None
    return answer


def _quoted(cell: str) -> str:
    """Return a cell so that `split_line` gives it back: only a quote at its start needs care."""
    return '"' + cell.replace('"', '""') + '"' if cell.startswith('"') else cell
