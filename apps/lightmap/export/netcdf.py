"""A LightGrid as NetCDF by the CF conventions, version 1.11 (https://cfconventions.org).

The file is classic NetCDF (CDF-2), which every reader of NetCDF opens.
"""

import datetime as dt
import io
from typing import Any, TypeVar

import numpy as np
from scipy.io import netcdf_file

from apps.lightmap.export.light_grid import LightGrid
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.normal import NORMAL_90

CONVENTIONS = "CF-1.11"
# Of the CF standard name table; its canonical unit is mol m-2 s-1, of which this is a millionth.
PPFD = "downwelling_photosynthetic_photon_flux_in_sea_water"
UNIT = "umol m-2 s-1"
# Depth last: the conventions want what is no place on earth to the left of it.
DIMENSIONS = ("y", "x", "depth")
ANCILLARY = ("par_standard_error", "par_lower", "par_upper", "par_status")
Block = TypeVar("Block", bound=np.ndarray)
# NetCDF's own value for no number.
FILL = np.float32(9.969209968386869e36)
METRES_PER_CM = 0.01
EPOCH = "seconds since 1970-01-01 00:00:00"


def write_netcdf(grid: LightGrid, *, title: str, made_at: dt.datetime) -> bytes:
    """Return a LightGrid as the bytes of a NetCDF file."""
    out = io.BytesIO()
    file: Any = netcdf_file(out, "w", version=2)
    _write_head(file, grid, title, made_at)
    _write_axes(file, grid)
    _write_light(file, grid)
    file.flush()
    content = out.getvalue()
    file.close()
    return content


def standard_error(grid: LightGrid) -> FloatArray:
    """Return the standard error of PAR [umol m-2 s-1]: the interval is even in its logarithm."""
    log_width = np.log(grid.high_umol) - np.log(np.maximum(grid.low_umol, 1e-6))
    result: FloatArray = grid.par_umol * log_width / (2.0 * NORMAL_90)
    return result


def _write_head(file: Any, grid: LightGrid, title: str, made_at: dt.datetime) -> None:
    by = "fit to readings of a PAR meter" if grid.rests_on["measured"] else "stated light output"
    file.Conventions = CONVENTIONS
    file.title = _ascii(title)
    file.institution = "reeflog"
    file.source = f"light field of an aquarium by ray model, {by}"
    file.history = f"{made_at:%Y-%m-%dT%H:%M:%SZ} written by reeflog"
    file.references = "docs/how_it_works.md of reeflog"
    file.comment = (
        "PAR is photosynthetic photon flux density, 400-700 nm, on an upward-facing cosine sensor "
        "at the peak of the light day. x is the distance from the left end, y from the front pane."
    )


def _write_axes(file: Any, grid: LightGrid) -> None:
    axes = {
        "depth": (grid.depth_cm, "depth below the water surface"),
        "y": (grid.y_cm, "distance from the front pane"),
        "x": (grid.x_cm, "distance from the left end"),
    }
    time = file.createVariable("time", "d", ())
    time.data[()] = grid.moment.timestamp()
    time.standard_name, time.long_name, time.axis = "time", "moment of the light", "T"
    time.units, time.calendar = EPOCH, "standard"
    time.units_metadata = "leap_seconds: none"
    for name, (places, words) in axes.items():
        file.createDimension(name, len(places))
        variable = file.createVariable(name, "d", (name,))
        variable[:] = places * METRES_PER_CM
        variable.units, variable.long_name = "m", words
    depth = file.variables["depth"]
    # x and y are no longitude and latitude, which their axis would make of them.
    depth.standard_name, depth.positive, depth.axis = "depth", "down", "Z"


def _write_light(file: Any, grid: LightGrid) -> None:
    par = _block(file, "par", grid.par_umol, "PAR at the peak of the day")
    par.standard_name = PPFD
    par.cell_methods = "time: point"
    par.ancillary_variables = " ".join(ANCILLARY)
    error = _block(file, "par_standard_error", standard_error(grid), "standard error of PAR")
    error.standard_name = f"{PPFD} standard_error"
    _block(file, "par_lower", grid.low_umol, "lower end of the 90 % interval of PAR")
    _block(file, "par_upper", grid.high_umol, "upper end of the 90 % interval of PAR")
    status = file.createVariable("par_status", "b", DIMENSIONS)
    status[:] = _turned(grid.extrapolated.astype(np.int8))
    status.coordinates = "time"
    status.standard_name, status.long_name = "status_flag", "whether readings lie around"
    status.flag_values = np.array([0, 1], np.int8)
    status.flag_meanings = "within_readings extrapolated"
    if grid.dli_mol is not None:
        daily = _block(file, "dli", grid.dli_mol, "daily light integral on that day")
        daily.units = "mol m-2 d-1"


def _block(file: Any, name: str, values: FloatArray, words: str) -> Any:
    variable = file.createVariable(name, "f", DIMENSIONS)
    variable[:] = _turned(np.where(np.isnan(values), FILL, values).astype(np.float32))
    variable.units, variable.long_name = UNIT, words
    variable._FillValue = FILL
    variable.coordinates = "time"
    return variable


def _turned(block: Block) -> Block:
    """Return a block (depth, y, x) as (y, x, depth)."""
    return np.moveaxis(block, 0, -1)


def _ascii(text: str) -> str:
    """Return a text without what classic NetCDF can't hold."""
    return text.encode("ascii", "replace").decode()
