"""Frames: places of the tank land where a reader expects them, in any shape of tank and unit."""

import pytest

from apps.drawing.frame import HEIGHT_MAX, HEIGHT_MIN, frame_for, ticks


def test_front_left_corner_of_the_plan_is_at_the_foot_left():
    frame = frame_for(60, 45, upward=True)
    assert (frame.x(0), frame.y(0)) == (frame.left, frame.bottom)
    assert frame.y(45) == pytest.approx(frame.top)


def test_surface_of_the_section_is_on_top():
    frame = frame_for(60, 45)
    assert frame.y(0) == frame.top and frame.y(45) == pytest.approx(frame.bottom)


def test_usual_tank_is_drawn_to_scale():
    frame = frame_for(60, 45)
    assert frame.width / frame.height == pytest.approx(60 / 45) and not frame.stretched


@pytest.mark.parametrize(("across", "down"), [(1000, 10), (10, 1000), (10, 300)])
def test_odd_tank_stays_readable_and_says_it_is_not_to_scale(across, down):
    frame = frame_for(across, down)
    assert HEIGHT_MIN <= frame.height <= HEIGHT_MAX and frame.width >= HEIGHT_MIN
    assert frame.stretched


def test_rock_rectangle_stands_on_its_upper_left_corner():
    frame = frame_for(60, 45, upward=True)
    found = frame.rectangle(10, 5, 20, 15)
    # Drawings are written to a tenth of a unit.
    assert float(found["y"]) == pytest.approx(frame.y(20), abs=0.06)
    assert float(found["height"]) == pytest.approx(frame.height / 3, abs=0.06)


@pytest.mark.parametrize("size_cm", [5, 10, 17, 42, 60, 95, 180, 999])
@pytest.mark.parametrize("unit", ["cm", "in"])
def test_ticks_are_few_and_inside(size_cm, unit):
    found = ticks(size_cm, unit, roomy=True)
    assert 3 <= len(found) <= 8
    assert found[0][0] == 0 and found[-1][0] * (2.54 if unit == "in" else 1) <= size_cm + 1e-6


def test_ticks_of_inches_are_round_inches():
    assert [text for _, text in ticks(60 * 2.54, "in", roomy=True)] == [
        "0", "10", "20", "30", "40", "50", "60",
    ]  # fmt: skip
