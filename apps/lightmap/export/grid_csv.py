"""A LightGrid as CSV: a line a point, only numbers, so no cell can be taken for a formula."""

from collections.abc import Iterator

import numpy as np

from apps.lightmap.export.light_grid import LightGrid

COLUMNS = (
    "x_cm",
    "y_cm",
    "depth_cm",
    "par_umol",
    "par_low_umol",
    "par_high_umol",
    "dli_mol",
    "extrapolated",
)


def grid_rows(grid: LightGrid) -> Iterator[tuple[float | None, ...]]:
    """Yield the points in water, in the order of COLUMNS; extrapolated is 0 or 1."""
    z, y, x = np.meshgrid(grid.depth_cm, grid.y_cm, grid.x_cm, indexing="ij")
    daily = np.full(x.shape, np.nan) if grid.dli_mol is None else grid.dli_mol
    blocks = (x, y, z, grid.par_umol, grid.low_umol, grid.high_umol, daily, grid.extrapolated)
    wet = ~np.isnan(grid.par_umol)
    for row in zip(*(block[wet].tolist() for block in blocks), strict=True):
        *numbers, beyond = row
        yield (*(None if value != value else round(value, 4) for value in numbers), int(beyond))


def write_csv(grid: LightGrid) -> str:
    lines = [",".join(COLUMNS)]
    lines += [",".join("" if v is None else f"{v:g}" for v in row) for row in grid_rows(grid)]
    return "\r\n".join([*lines, ""])
