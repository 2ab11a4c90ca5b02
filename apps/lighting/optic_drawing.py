"""A fixture's distribution as a polar curve: how strong it shines in every direction downward."""

from dataclasses import dataclass

import numpy as np

from apps.photics.optic_fit import model_shape

# The drawing's box in its own units, the fixture at the top middle.
WIDE, HIGH, MIDDLE, TOP, RADIUS = 340, 190, 170, 14, 150
STEP_DEG = 1.0
RING_SHARES = (0.5, 1.0)
RAYS_DEG = (0, 30, 60, 90)


@dataclass(frozen=True)
class RayLabel:
    x: float
    y: float
    text: str
    anchor: str
    path: str


@dataclass(frozen=True)
class OpticDrawing:
    """Curves in two planes of what was measured, and the plain beam nearest to it."""

    along: str  # along the fixture; empty without a file
    across: str  # across it; empty where it is the same
    model: str
    rings: tuple[str, ...]
    rays: tuple[RayLabel, ...]
    wide: int = WIDE
    high: int = HIGH


def optic_drawing(beam_deg, photometry=None, *, turned_deg=0.0):
    """Return the OpticDrawing of a beam [degrees], with a measured Photometry where there is one.

    turned_deg: how far the fixture's length is turned from the file's 0-degree plane [degrees].
    All curves enclose the same downward flux, so that their shapes compare.
    """
    angles = np.arange(0.0, 90.0 + STEP_DEG, STEP_DEG)
    weight = np.sin(np.radians(angles))
    model = model_shape(beam_deg, angles)
    model = model / (weight @ model)
    sides = []
    if photometry is not None:
        mean = photometry.intensity(angles[:, None], np.arange(0.0, 360.0, 7.5)).mean(axis=1)
        flux = float(weight @ mean) or 1.0
        sides = [
            (photometry.intensity(angles, plane) / flux, photometry.intensity(angles, plane + 180))
            for plane in (turned_deg, turned_deg + 90.0)
        ]
        sides = [(right, left / flux) for right, left in sides]
    top = max([model.max(), *(side.max() for pair in sides for side in pair)])
    paths = [polar(angles, right / top, left / top) for right, left in sides]
    same = len(sides) == 2 and all(
        np.allclose(a, b, atol=1e-6 * top) for a, b in zip(*sides, strict=True)
    )
    return OpticDrawing(
        along=paths[0] if paths else "",
        across="" if same or not paths else paths[1],
        model=polar(angles, model / top, model / top),
        rings=tuple(ring(share) for share in RING_SHARES),
        rays=tuple(ray(sign * angle) for angle in RAYS_DEG for sign in signs(angle)),
    )


def signs(angle):
    return (1,) if angle == 0 else (1, -1)


def place(angle_deg, share):
    """Return the place of a share of the greatest strength, at an angle from straight down."""
    angle = np.radians(angle_deg)
    return MIDDLE + RADIUS * share * np.sin(angle), TOP + RADIUS * share * np.cos(angle)


def polar(angles, right, left):
    """Return the closed path of strengths to the right and to the left of straight down."""
    corners = [place(a, s) for a, s in zip(angles, right, strict=True)][::-1]
    corners += [place(-a, s) for a, s in zip(angles, left, strict=True)][1:]
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in corners) + "Z"


def ring(share):
    radius = RADIUS * share
    return f"M{MIDDLE - radius:g} {TOP}A{radius:g} {radius:g} 0 0 0 {MIDDLE + radius:g} {TOP}"


def ray(angle_deg):
    x, y = place(angle_deg, 1.0)
    label_x, label_y = place(angle_deg, 1.07)
    anchor = "middle" if angle_deg == 0 else "start" if angle_deg > 0 else "end"
    if abs(angle_deg) == 90:
        # Level: above the ray, where the drawing still has room.
        label_x, label_y, anchor = x, y - 4, "end" if angle_deg > 0 else "start"
    path = f"M{MIDDLE} {TOP}L{x:.1f} {y:.1f}"
    text = f"{abs(angle_deg)}°"
    return RayLabel(round(label_x, 1), round(label_y + 4, 1), text, anchor, path)
