"""The table readings are typed in: what was posted, what the survey holds, and how they differ."""

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.http import QueryDict

from apps.common.numbers import whole_number
from apps.photics.ground.lengths import CM, CM_PER_INCH
from apps.photics.ground.scene import out_of_water
from apps.photics.limits import SURVEY_READINGS_MAX
from apps.surveys.models import Survey
from apps.surveys.recording import ReadingRow, rows_of
from apps.surveys.tables.typed_rows import (
    COLUMNS,
    LENGTHS,
    TypedRow,
    length_text,
    read_row,
    typed_from,
)
from apps.tanks.models import Tank

BLANK_ROWS = 9
GRID_MOST = {"nx": 20, "ny": 20, "nz": 10}


# Of more rows than ROWS_OPEN, those at the head fold, so many to a fold.
ROWS_OPEN, ROWS_A_FOLD = 40, 20


@dataclass(frozen=True)
class RowFold:
    """Rows at the head of a long table, under what they hold."""

    first: int  # the number of its first row
    rows: Sequence[TypedRow]

    @property
    def last(self) -> int:
        return self.first + len(self.rows) - 1

    @property
    def par_ends(self) -> tuple[str, str] | None:
        """Its dimmest and brightest PAR as typed, None where one is no plain number."""
        try:
            values = sorted((row.par for row in self.rows), key=float)
        except ValueError:
            return None
        return values[0], values[-1]

    @property
    def is_open(self) -> bool:
        """Whether a keeper has something to do here: a row to fix, or one not read yet."""
        return any(row.errors or row.elsewhere or not row.par.strip() for row in self.rows)


@dataclass
class ReadingTable:
    """Rows as typed, and the save they were typed against."""

    survey: Survey
    unit: str
    rows: list[TypedRow]
    version: int

    @classmethod
    def of(cls, survey: Survey, *, unit: str) -> "ReadingTable":
        """Return the table of what the survey holds; a new survey starts with blank rows."""
        rows = [typed_from(row, unit=unit) for row in rows_of(survey)]
        return cls(survey, unit, rows or [TypedRow() for _ in range(BLANK_ROWS)], survey.version)

    @classmethod
    def posted(cls, survey: Survey, data: QueryDict, *, unit: str) -> "ReadingTable":
        """Return the table a form sent, read and checked; blank rows fall away."""
        names = [*COLUMNS, "client_id"]
        columns = [data.getlist(name)[: 2 * SURVEY_READINGS_MAX] for name in names]
        rows = [
            TypedRow.of(dict(zip(names, cells, strict=True)))
            for cells in itertools.zip_longest(*columns, fillvalue="")
        ]
        table = cls(survey, unit, [r for r in rows if not r.is_blank], _version(data))
        stored = {str(row.client_id): row for row in rows_of(survey)}
        for row in table.rows:
            if not row.is_planned:
                read_row(row, survey=survey, unit=unit, stored=stored)
        return table

    @property
    def folds(self) -> list[RowFold]:
        """The RowFolds of a long table; the rest of its rows stands open below them."""
        starts = range(0, len(self.rows) - ROWS_A_FOLD, ROWS_A_FOLD)
        if len(self.rows) <= ROWS_OPEN:
            return []
        return [RowFold(k + 1, self.rows[k : k + ROWS_A_FOLD]) for k in starts]

    @property
    def open_rows(self) -> list[TypedRow]:
        """The rows that no fold holds: where the next are typed."""
        return self.rows[sum(len(fold.rows) for fold in self.folds) :]

    @property
    def is_sound(self) -> bool:
        return not any(row.errors for row in self.rows)

    @property
    def wrong_count(self) -> int:
        return sum(bool(row.errors) for row in self.rows)

    @property
    def planned_count(self) -> int:
        return sum(row.is_planned for row in self.rows)

    @property
    def has_spread(self) -> bool:
        return any(row.spread.strip() for row in self.rows)

    def readings(self) -> list[ReadingRow]:
        """Return the rows that hold a reading."""
        return [row.reading for row in self.rows if row.reading]

    def take_errors(self, by_row: Mapping[int, Mapping[str, Sequence[str]]]) -> None:
        """Put what a save refused ({index of reading: {field: [sentence]}}) at its cells."""
        filled = [row for row in self.rows if row.reading]
        homes = {column: name for name, (column, _) in COLUMNS.items()}
        for index, errors in by_row.items():
            for column, sentences in errors.items():
                filled[index].errors[homes.get(column, "par")] = " ".join(sentences)

    def against(self, saved: Iterable[ReadingRow]) -> "Conflict":
        """Compare with what another save holds (ReadingRows); marks the rows that differ."""
        mine = {row.client_id: row for row in self.rows}
        only_saved = []
        for reading in saved:
            shown = typed_from(reading, unit=self.unit)
            row = mine.get(shown.client_id)
            if row is None:
                only_saved.append((shown, reading))
            elif _texts(row) != _texts(shown):
                row.elsewhere = shown.words()
        return Conflict(
            only_saved=[shown for shown, _ in only_saved],
            only_saved_readings=[reading for _, reading in only_saved],
        )


@dataclass(frozen=True)
class Conflict:
    """The rows that stand only in another save: as shown in the keeper's unit, and as numbers."""

    only_saved: list[TypedRow]
    only_saved_readings: list[ReadingRow]


def _texts(row: TypedRow) -> tuple[str, ...]:
    return tuple(getattr(row, name).strip() for name in COLUMNS)


def _version(data: QueryDict) -> int:
    try:
        return max(int(data.get("version", "")), -1)
    except ValueError:
        # No version says nothing of what the sender saw: treated as an old one.
        return -1


def grid_rows(tank: Tank, query: Mapping[str, str], *, unit: str) -> list[TypedRow]:
    """Return blank-PAR rows at an nx x ny x nz grid, or none when the query names no grid.

    Each point stands in the middle of its share of the water, at a whole cm or half an inch;
    points within rock or outside the panes are left out.
    """
    counts = {name: _count(query.get(name), most) for name, most in GRID_MOST.items()}
    if not all(counts.values()):
        return []
    sides = zip((tank.length_cm, tank.width_cm, tank.depth_cm), counts.values(), strict=True)
    xs, ys, depths = ([_middle_cm(side, i, n, unit) for i in range(n)] for side, n in sides)
    scene, rocks = tank.scene(), tank.scene_rocks()
    points = [
        TypedRow.of({name: length_text(cm, unit) for name, cm in zip(LENGTHS, place, strict=True)})
        for z, y, x in itertools.product(depths, ys, xs)
        if not out_of_water(scene, rocks, *(place := (x, y, z)))
    ]
    return points[:SURVEY_READINGS_MAX]


def _middle_cm(side_cm: float, index: int, count: int, unit: str) -> float:
    step_cm = 1.0 if unit == CM else CM_PER_INCH / 2
    middle_cm = side_cm * (index + 0.5) / count
    whole_cm = round(middle_cm / step_cm) * step_cm
    # In a small tank with many points a whole step would put two of them at one place.
    return whole_cm if side_cm / count >= 2 * step_cm else round(middle_cm, 2)


def _count(text: str | None, most: int) -> int:
    return min(whole_number(text or "", digits_max=3) or 0, most)
