"""Opens one workbook in a process of its own; `workbook.py` starts it and reads its answer.

A few bytes of a workbook can claim a sheet of a million rows by 16,000 columns, and the library
then asks for all of it at once: the process ends. This one has little memory and little time, and
no rows, no settings and no network beside it.
"""

import datetime as dt
import json
import resource
import sys
from collections.abc import Iterable

import python_calamine as calamine


def main(sheet: str, rows_max: int, memory_mb: int, seconds: int) -> dict[str, object]:
    """Return what the workbook on standard input holds, as plain values for JSON."""
    resource.setrlimit(resource.RLIMIT_AS, (memory_mb << 20, memory_mb << 20))
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    try:
        book = calamine.load_workbook(sys.stdin.buffer)
        names = shown_names(book)
        chosen = [name for name in names if name.casefold() == sheet.casefold()]
        if sheet and not chosen:
            return {"problem": "sheet", "sheets": names}
        for name in chosen or names:
            rows = filled_rows(book.get_sheet_by_name(name).iter_rows(), rows_max)
            if any(rows) or chosen:
                return {"sheet": name, "others": [n for n in names if n != name], "rows": rows}
        return {"sheet": "", "others": [], "rows": []}
    except calamine.PasswordError:
        return {"problem": "password"}
    except (calamine.CalamineError, OSError, ValueError):
        return {"problem": "unreadable"}


def shown_names(book: calamine.CalamineWorkbook) -> list[str]:
    """Return the names of the sheets that a keeper sees."""
    visible = calamine.SheetVisibleEnum.Visible
    return [sheet.name for sheet in book.sheets_metadata if sheet.visible == visible]


def filled_rows(rows: Iterable[Iterable[object]], most: int) -> list[list[str]]:
    """Return the first rows as texts, one more than `most` where there are more."""
    texts: list[list[str]] = []
    blank = 0
    for row in rows:
        cells = [cell_text(value) for value in row]
        while cells and not cells[-1]:
            cells.pop()
        if not cells:
            # Blank rows at the end count for nothing, those before others keep the numbering.
            blank += 1
            continue
        texts += [[] for _ in range(min(blank, most))]
        blank = 0
        texts.append(cells)
        if len(texts) > most:
            break
    return texts


def cell_text(value: object) -> str:
    """Return a cell as a keeper would type it: ISO dates, numbers without a rounding tail."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"{value:.12g}"
    if isinstance(value, dt.datetime):
        near = value + dt.timedelta(microseconds=500_000)
        text = near.replace(microsecond=0).isoformat(" ")
        return text.removesuffix(" 00:00:00")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, dt.time):
        return value.replace(microsecond=0).isoformat()
    if isinstance(value, dt.timedelta):
        seconds = round(value.total_seconds())
        return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}"
    return " ".join(str(value).split())


if __name__ == "__main__":
    sheet, *numbers = sys.argv[1:]
    json.dump(main(sheet, *map(int, numbers)), sys.stdout)
