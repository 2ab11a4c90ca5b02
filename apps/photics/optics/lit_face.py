"""Where the lit face of a hanging fixture lies, and where it shines on the water.

Solid geometry, by the axes of `orientation.frame`.
"""

from apps.photics.ground.scene import Fixture
from apps.photics.optics.orientation import frame


def face_corners_cm(fixture: Fixture) -> list[tuple[float, float]]:
    """Return the corners of a fixture's lit face seen from above, four (x, y) [cm]."""
    return [(x, y) for x, y, _ in hung_corners_cm(fixture)]


def hung_corners_cm(fixture: Fixture) -> list[tuple[float, float, float]]:
    """Return the corners of a fixture's lit face, four (x, y, height over water) [cm]."""
    along, across, _ = frame(fixture.turn_deg, tilt_deg=fixture.tilt_deg)
    half_x, half_y = along * fixture.panel_x_cm / 2, across * fixture.panel_y_cm / 2
    ring = (-half_x - half_y, half_x - half_y, half_x + half_y, -half_x + half_y)
    middle = fixture.x_cm, fixture.y_cm, fixture.height_cm
    return [
        (float(middle[0] + x), float(middle[1] + y), float(middle[2] - down)) for x, y, down in ring
    ]


def aimed_at_cm(fixture: Fixture) -> tuple[float, float]:
    """Return where the axis of a fixture meets the water's level, (x, y) [cm]."""
    x, y, down = frame(fixture.turn_deg, tilt_deg=fixture.tilt_deg)[2]
    far = fixture.height_cm / down
    return float(fixture.x_cm + x * far), float(fixture.y_cm + y * far)
