"""A small picture of an answer's light: one level seen from above, the lights' outlines on it."""

import hashlib
from dataclasses import dataclass
from functools import partial

from apps.common.kept import kept
from apps.drawing.cut import CELLS, OnCut
from apps.drawing.frame import DRAWING_WIDTH
from apps.drawing.marks import polygon_points
from apps.drawing.plan import draw_plan, plan_frame
from apps.lightmap.page.looks import LOOKS, PAR, scale_for
from apps.photics.ground.lengths import CM
from apps.photics.ground.scene import Fixture
from apps.photics.layout.planned_light import planned_field
from apps.photics.layout.question import Question, Zone
from apps.photics.optics.lit_face import face_corners_cm
from apps.photics.rig.fixture_light import OutputEstimate
from apps.planning.layout.map import PlannedLight, PlannedTank

# Raised whenever the same layout is drawn otherwise.
PICTURE_VERSION = 1
# Half as many cells as the map: a picture as small shows no more. Our own choice.
PICTURE_CELLS = CELLS // 2
# Room around the tank in the drawing's units.
ROOM = 4.0


@dataclass(frozen=True)
class LightPicture:
    """The light of one level [cm] in bands, the wanted band's edge, and what hangs above."""

    view_box: str
    bands: tuple[tuple[str, str], ...]
    wanted_edge: str
    water: dict[str, str]
    edge: str
    faces: tuple[str, ...]
    zone: Zone
    depth_cm: float


def light_picture(
    question: Question, fixtures: list[Fixture], outputs: list[OutputEstimate], zone: Zone
) -> LightPicture:
    """Return the LightPicture of fixtures on the middle level of a zone, kept once drawn."""
    text = repr((
        PICTURE_VERSION, question.tank, question.rocks, question.law, zone, fixtures, outputs,
    ))  # fmt: skip
    key = "layout-picture-" + hashlib.sha256(text.encode()).hexdigest()
    picture: LightPicture = kept(key, partial(draw_picture, question, fixtures, outputs, zone))
    return picture


def draw_picture(
    question: Question, fixtures: list[Fixture], outputs: list[OutputEstimate], zone: Zone
) -> LightPicture:
    """Return the LightPicture of fixtures on the middle level of a zone."""
    field = planned_field(question.tank, fixtures, outputs, question.rocks, question.law)
    light, water = PlannedLight(field), PlannedTank(question.tank, question.rocks)
    depth = sum(zone.depth_cm) / 2
    level = light.grid(depth, max(water.length_cm, water.width_cm) / PICTURE_CELLS)
    look = LOOKS[PAR]
    scale = scale_for(look, (zone.low_umol, zone.high_umol))
    drawing = draw_plan(
        level, look.values(light, level), scale, water, y_cm=0.0, over=OnCut(), unit=CM
    )
    frame = plan_frame(water)
    faces = [[(float(frame.x(x)), float(frame.y(y))) for x, y in face_corners_cm(fixture)]
             for fixture in fixtures]  # fmt: skip
    across = [x for face in faces for x, _ in face]
    down = [y for face in faces for _, y in face]
    left, right = min(frame.left, *across) - ROOM, max(frame.right, *across) + ROOM
    top, foot = min(frame.top, *down) - ROOM, max(frame.bottom, *down) + ROOM
    return LightPicture(
        view_box=f"{max(left, 0.0):.1f} {top:.1f} {min(right, DRAWING_WIDTH) - left:.1f} "
        f"{foot - top:.1f}",
        bands=tuple(drawing.light.bands),
        wanted_edge=drawing.light.wanted_edge,
        water=frame.rectangle(0.0, 0.0, water.length_cm, water.width_cm),
        edge=frame.edge,
        faces=tuple(polygon_points(face) for face in faces),
        zone=zone,
        depth_cm=depth,
    )
