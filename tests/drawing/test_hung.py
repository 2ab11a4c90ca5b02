"""The hung plan: what hangs behind another from the front is told beside it."""

from apps.drawing.hung import draw_hung
from apps.photics.ground.scene import Fixture, Tank


def test_a_tilted_fixture_lies_within_the_drawing_from_the_front():
    """Its upper edge is 10 cm above its middle: the drawing makes room for it."""
    tilted = Fixture(30, 20, 20, 90, 15, 20, tilt_deg=-89.9)
    front = draw_hung(Tank(60, 45, 40), [tilted], str)[1]
    ys = [float(pair.split(",")[1]) for pair in front.faces[0].points.split()]
    assert min(ys) >= 0.0


def test_fixtures_behind_each_other_share_one_label_from_the_front():
    rows = [Fixture(30, y, 20, 90, 15, 15) for y in (15, 36)] + [Fixture(50, 20, 20, 90, 15, 15)]
    above, front = draw_hung(Tank(60, 45, 40), rows, str)
    assert [face.number for face in above.faces] == ["1", "2", "3"]
    assert [face.number for face in front.faces] == ["1, 2", "", "3"]
