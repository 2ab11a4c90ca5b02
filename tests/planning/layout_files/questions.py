"""Questions of a layout as JSON, over an invented tank and invented fixtures."""

import copy

PANEL = {
    "name": "Panel", "kind": "panel", "panel_x_cm": 20, "panel_y_cm": 20, "beams_deg": [110, 55],
    "output_umol": 120, "watts": 90, "price": 300,
}  # fmt: skip
QUESTION = {
    "tank": {"length_cm": 60, "width_cm": 60, "depth_cm": 50},
    "zones": "usual",
    "fixtures": [PANEL],
    "limits": {"height_cm": [15, 35], "count": 2},
}
ZONE = {
    "name": "Rock", "x_cm": [10, 50], "y_cm": [15, 45], "depth_cm": [8, 20], "low_umol": 150,
    "high_umol": 300,
}  # fmt: skip


def question(**changes):
    """Return a question with other parts."""
    return copy.deepcopy(QUESTION) | copy.deepcopy(changes)


def with_fixture(**changes):
    """Return a question with its panel changed; None leaves a key out."""
    changed = {key: value for key, value in (PANEL | changes).items() if value is not None}
    return question(fixtures=[changed])


def with_zone(**changes):
    """Return a question of one zone of its own, changed; None leaves a key out."""
    changed = {key: value for key, value in (ZONE | changes).items() if value is not None}
    return question(zones=[changed])
