"""A point read on the map: why it has its light, in a clause, and what can be done there."""

from urllib.parse import urlencode

import numpy as np

from apps.common.pages_above import page_above
from apps.common.units import format_length
from apps.lightmap.page.map_page import LitPage

# A reading this close counts as taken at the point [share of the longest side]: our own choice.
NEAR_SHARE = 0.08

Point = tuple[float, float, float]  # x, y, depth [cm]


def reasons(page: LitPage) -> dict[str, str]:
    """Return the clause for each kind of point; `{}` stands for how far the next reading is."""
    known = "worked out from your lights" if page.light.rig else "between readings"
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
