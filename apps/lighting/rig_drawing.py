"""The plan and the front view on which hanging fixtures are placed."""

from dataclasses import dataclass

from apps.common.units import UNIT_WORDS
from apps.lighting.rig import face_corners_cm

# Room beside the tank for fixtures that hang past its rim, of each side [1].
BESIDE = 0.15
# The front view shows at least this much air above the water, and this above the highest [cm].
AIR_CM, OVER_CM = 40.0, 15.0
# How thick a fixture is drawn from the front, of the tank's length [1].
THICK = 0.02


@dataclass(frozen=True)
class Hanging:
    """One fixture before anything is moved: its outline above, its bar in front, its label."""

    label: str
    name: str
    corners: str
    x: float
    y: float
    left: float
    width: float
    top: float


@dataclass(frozen=True)
class RigDrawing:
    """Both views in cm; the front pane is at the foot of the plan, the air on top in front."""

    above_box: str
    front_box: str
    length_cm: float
    width_cm: float
    depth_cm: float
    air_cm: float
    thick_cm: float
    text_cm: float
    text_shift_cm: float
    hanging: tuple[Hanging, ...]
    unit: str
    cm_per_unit: float


def rig_drawing(tank, hung, *, unit):
    """Return the RigDrawing of a tank and the HungFixtures over it."""
    length, width, depth = tank.length_cm, tank.width_cm, tank.depth_cm
    air = max([AIR_CM, *(row.height_cm + OVER_CM for row in hung)])
    side_x, side_y = BESIDE * length, BESIDE * width
    wide = length + 2 * side_x
    return RigDrawing(
        above_box=f"{-side_x:g} {-side_y:g} {wide:g} {width + 2 * side_y:g}",
        front_box=f"{-side_x:g} {-air:g} {wide:g} {air + depth + 1:g}",
        length_cm=length,
        width_cm=width,
        depth_cm=depth,
        air_cm=air,
        thick_cm=round(THICK * length, 2),
        text_cm=round(wide / 20, 2),
        text_shift_cm=round(wide / 58, 2),
        hanging=tuple(drawn(tank, row) for row in hung),
        unit=unit,
        cm_per_unit=UNIT_WORDS[unit],
    )


def drawn(tank, row):
    """Return the Hanging of a HungFixture."""
    corners = face_corners_cm(row.scene())
    xs = [x for x, _ in corners]
    return Hanging(
        label=str(row.number),
        name=row.scene().name,
        corners=" ".join(f"{x:.1f},{tank.width_cm - y:.1f}" for x, y in corners),
        x=round(row.x_cm, 1),
        y=round(tank.width_cm - row.y_cm, 1),
        left=round(min(xs), 1),
        width=round(max(xs) - min(xs), 1),
        top=round(-row.height_cm, 1),
    )


def lit_sizes(fixtures, hung):
    """Return {what a row chooses: [length, width] of the lit area in cm} for the page's script.

    A fixture that hangs keeps the size it was hung with: "library key#number" comes first.
    """
    sizes = {str(f.pk): [f.lit_length_cm, f.lit_width_cm] for f in fixtures}
    hanging = {
        f"{row.fixture_id or ''}#{row.number}": [row.lit_length_cm, row.lit_width_cm]
        for row in hung
    }
    return sizes | hanging
