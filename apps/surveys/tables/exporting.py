"""A survey's readings as a file that the import reads back as they are."""

from collections.abc import Sequence

from apps.surveys.recording import ReadingRow
from apps.surveys.tables.typed_rows import plain


def write_csv(rows: Sequence[ReadingRow]) -> str:
    """Return ReadingRows as CSV text: lengths in cm, PAR as the meter showed it.

    Only numbers are written, so no cell can be taken for a formula. A spread column
    stands when any row has one.
    """
    has_spread = any(row.spread_umol is not None for row in rows)
    header = "x_cm,y_cm,depth_cm,par" + (",spread" if has_spread else "")
    return "\r\n".join([header, *(_line(row, has_spread) for row in rows), ""])


def _line(row: ReadingRow, has_spread: bool) -> str:
    cells = [plain(v) for v in (row.x_cm, row.y_cm, row.depth_cm, row.value_umol)]
    if has_spread:
        cells.append("" if row.spread_umol is None else plain(row.spread_umol))
    return ",".join(cells)
