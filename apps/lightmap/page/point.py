"""A point read on the map: why it has its light, in a clause, and what can be done there."""

from dataclasses import dataclass
from urllib.parse import urlencode

import numpy as np

from apps.common.pages_above import page_above
from apps.common.units import format_length
from apps.lightmap.page.map_page import LitPage
from apps.lightmap.page.query import SIDE

# A reading this close counts as taken at the point [share of the longest side]: our own choice.
NEAR_SHARE = 0.08

Point = tuple[float, float, float]  # x, y, depth [cm]


@dataclass(frozen=True)
class OpeningPoint:
    """The brightest node of the cut that is shown, read before the keeper chooses a point."""

    par_umol: float
    low_umol: float
    high_umol: float
    place_cm: Point
    is_beyond: bool  # the readings
    # Where it lies on which drawing, as the page's script has it [cm].
    on_cut: dict[str, str | float]


def opening_point(page: LitPage) -> OpeningPoint | None:
    """Return the OpeningPoint of a drawn page; None at a slant, in the dark and all in rock."""
    planes, drawn = page.planes, page.cut
    if planes is None or drawn is None:
        return None
    # What the page's script reads too: nothing where there is rock or no water.
    seen = np.asarray(drawn.readout["par"], dtype=float)
    if not (seen > 0).any():
        return None
    cut = planes.upright if page.query.seen == SIDE else planes.level
    row, column = divmod(int(np.nanargmax(seen)), len(cut.x_cm))
    x_cm = float(cut.x_cm[column])
    if page.query.seen == SIDE:
        plane, down_cm = "section", float(planes.upright.depth_cm[row])
        place_cm = x_cm, page.view.y_cm, down_cm
    else:
        plane, down_cm = "plan", float(planes.level.y_cm[row])
        place_cm = x_cm, down_cm, page.view.depth_cm
    return OpeningPoint(
        par_umol=float(cut.par_umol[row, column]),
        low_umol=float(cut.low_umol[row, column]),
        high_umol=float(cut.high_umol[row, column]),
        place_cm=place_cm,
        is_beyond=bool(page.rows) and bool(cut.extrapolated[row, column]),
        on_cut={"plane": plane, "across": round(x_cm, 2), "down": round(down_cm, 2)},
    )


def point_context(page: LitPage) -> dict[str, object]:
    """Return what a page shows of the point it opens with, and its script needs for any other."""
    point = opening_point(page)
    return {
        "point": point,
        "point_data": point_data(page) | {"opening": point.on_cut if point else None},
        "coral_url": coral_address(page, point.place_cm if point else page.ask_point_cm),
    }


def reasons(page: LitPage) -> dict[str, str]:
    """Return the clause for each kind of point; `{}` stands for how far the next reading is."""
    # A map may leave the lamps out, where the readings do not look like theirs.
    by_lamps = page.light.rig and page.light.field.field.rig_fit is not None
    known = "worked out from the lamps" if by_lamps else "between readings"
    return {
        "near": "read {} away",
        "model": f"{known}, the next reading is {{}} away",
        "beyond": "an estimate, beyond the readings",
        "stated": "calculated from the lamps’ output alone",
    }


def near_cm(page: LitPage) -> float:
    """Return how close a reading must be to count as taken at a point [cm]."""
    tank = page.tank
    return NEAR_SHARE * max(tank.length_cm, tank.width_cm, tank.depth_cm)


def reason(page: LitPage, point_cm: Point, *, extrapolated: bool) -> str:
    """Return why a point has its light, in a clause."""
    words = reasons(page)
    if not page.rows:
        return words["stated"]
    if extrapolated:
        return words["beyond"]
    places = np.array([(row.x_cm, row.y_cm, row.depth_cm) for row in page.rows], float)
    away_cm = float(np.linalg.norm(places - np.asarray(point_cm, float), axis=1).min())
    said = words["near" if away_cm <= near_cm(page) else "model"]
    return said.format(f"{format_length(away_cm, page.unit)} {page.unit}")


def point_data(page: LitPage) -> dict[str, object]:
    """Return what the page's script needs to say the same of any point."""
    places = [[round(v, 1) for v in (row.x_cm, row.y_cm, row.depth_cm)] for row in page.rows]
    return {"readings": places, "nearCm": round(near_cm(page), 2), "reasons": reasons(page)}


def coral_address(page: LitPage, point_cm: Point) -> str:
    """Return where a coral is placed at a point."""
    names = ("x_cm", "y_cm", "depth_cm")
    place = {name: f"{value:.1f}" for name, value in zip(names, point_cm, strict=True)}
    return f"{page_above('coral_new', page.tank.pk)}?{urlencode(place)}"
