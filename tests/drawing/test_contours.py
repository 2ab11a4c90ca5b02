"""Bands and lines: known shapes come back, colours match the published map, labels keep clear."""

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.drawing.contours import (
    BANDS_MAX,
    BANDS_MIN,
    Box,
    band_colours,
    cividis,
    filled_bands,
    isolines,
    place_labels,
    round_levels,
    spread_over,
)

AXIS = np.linspace(0, 10, 41)
# Distance from the middle of a 10 x 10 square.
CONE = np.hypot(AXIS[None, :] - 5, AXIS[:, None] - 5)


def rings(path):
    """Return the rings of a path as arrays (k, 2)."""
    return [
        np.array([[float(n) for n in point.split()] for point in ring.split("L")])
        for ring in re.findall(r"M([^MZ]+)Z", path)
    ]


def area(ring):
    x, y = ring.T
    return abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def test_disc_has_the_area_of_a_disc():
    (ring,) = rings(filled_bands(AXIS, AXIS, CONE, [3.0])[0])
    # A polygon on a quarter-unit grid, written to a tenth: 2 % off at most.
    assert area(ring) == pytest.approx(math.pi * 9, rel=0.02)


def test_band_round_a_disc_has_a_hole():
    outer, hole = sorted(rings(filled_bands(AXIS, AXIS, CONE, [2.0, 4.0])[1]), key=area)[::-1]
    assert area(outer) - area(hole) == pytest.approx(math.pi * 12, rel=0.02)


def test_bands_cover_the_whole_frame():
    # A tilted plane: every band is one ring without a hole, so areas add up.
    tilt = np.broadcast_to(AXIS[None, :], (41, 41))
    bands = filled_bands(AXIS, AXIS, tilt, [2.0, 5.0, 7.0])
    assert sum(area(r) for path in bands for r in rings(path)) == pytest.approx(100.0, rel=1e-3)


def test_a_plane_that_lies_on_a_level_is_of_one_band():
    dusty = 0.7 * (1 + np.random.default_rng(3).normal(0, 3e-7, (41, 41)))
    bands = filled_bands(AXIS, AXIS, dusty, [0.5, 0.7, 0.85])
    assert [bool(path) for path in bands] == [False, True, False, False]
    assert not any(isolines(AXIS, AXIS, dusty, [0.5, 0.7, 0.85]))


def test_unknown_corner_stays_bare():
    known = np.broadcast_to(AXIS[None, :], (41, 41)).copy()
    known[:21, :21] = np.nan
    (ring,) = rings(filled_bands(AXIS, AXIS, known, [])[0])
    # The nodes up to 5.0 are unknown, and so are the cells that touch them, up to 5.25; paths are
    # written to a tenth, which shifts two edges of that length by 0.05.
    assert area(ring) == pytest.approx(100 - 5.25**2, abs=0.6)


@pytest.mark.parametrize("value", [80.0, 100.0])
def test_flat_field_falls_in_one_band(value):
    bands = filled_bands(AXIS, AXIS, np.full((41, 41), value), [80.0, 90.0])
    assert [bool(path) for path in bands].count(True) == 1


def test_line_of_a_cone_is_a_circle():
    ((line,),) = isolines(AXIS, AXIS, CONE, [3.0])
    assert np.hypot(*(line - 5).T) == pytest.approx(3.0, abs=0.02)


@pytest.mark.parametrize(
    ("low", "high", "step"), [(0, 8, 1), (37, 402, 50), (3, 160, 20), (0.2, 0.9, 0.1)]
)
def test_levels_are_round(low, high, step):
    assert np.diff(round_levels(low, high)) == pytest.approx(step)


@given(st.floats(0, 4000), st.floats(0.01, 5000))
def test_any_range_gives_six_to_ten_bands(low, span):
    levels = round_levels(low, low + span)
    assert BANDS_MIN <= len(levels) + 1 <= BANDS_MAX
    assert low < levels[0] and levels[-1] < low + span


def test_what_is_hidden_takes_the_nearest_value_seen():
    values = np.array([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]])
    hidden = np.array([[False, True, False], [True, True, False]])
    assert spread_over(values, hidden).tolist() == [[1, 1, 3], [1, 6, 6]]


def test_flat_range_has_no_levels():
    assert round_levels(120.0, 120.0) == ()


@pytest.mark.parametrize(("low", "high"), [(math.nan, 1.0), (0.0, math.inf)])
def test_endless_range_is_refused(low, high):
    with pytest.raises(ValueError, match="finite"):
        round_levels(low, high)


# cividis at some of 255, Nuñez, Anderton & Renslow 2018, doi:10.1371/journal.pone.0199239,
# as tabled in matplotlib's _cm_listed.py.
@pytest.mark.parametrize(
    ("index", "red", "green", "blue"),
    [
        (0, 0.0, 0.135112, 0.304751),
        (64, 0.263738, 0.307831, 0.422789),
        (128, 0.488697, 0.485318, 0.471008),
        (192, 0.736488, 0.680629, 0.424028),
        (255, 0.995737, 0.909344, 0.217772),
    ],
)
def test_colours_follow_the_published_map(index, red, green, blue):
    shown = cividis(index / 255)
    parts = [int(shown[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    # Straight lines between 17 anchors: within 2 of 255 at these places.
    assert parts == pytest.approx([red, green, blue], abs=0.008)


def test_colours_grow_lighter_from_band_to_band():
    # Rec. 709 weights are enough to tell light from dark.
    light = [
        sum(w * int(c[i : i + 2], 16) for w, i in zip((0.21, 0.72, 0.07), (1, 3, 5), strict=True))
        for c in band_colours(10)
    ]
    assert all(np.diff(light) > 0)


def labels_of(levels, **options):
    lines = isolines(AXIS * 30, AXIS * 30, CONE, levels)
    frame = Box(0, 0, 300, 300)
    texts = [f"{level:g}" for level in levels]
    return place_labels(lines, texts, frame=frame, font_size=12, **options), frame


def test_every_long_line_gets_its_label_inside_the_frame():
    labels, frame = labels_of([1, 2, 3, 4, 5, 6])
    assert [label.text for label in labels] == ["1", "2", "3", "4", "5", "6"]
    assert all(frame.holds(label.box) for label in labels)


def test_labels_do_not_meet():
    labels, _ = labels_of([1, 1.2, 1.4, 1.6, 1.8, 2])
    boxes = [label.box for label in labels]
    assert len(boxes) >= 4
    assert not any(a.meets(b) for i, a in enumerate(boxes) for b in boxes[:i])


def test_label_keeps_clear_of_what_stands_there():
    (free,), _ = labels_of([3])
    (moved,), _ = labels_of([3], taken=(free.box,))
    assert not moved.box.meets(free.box)


def test_line_too_short_for_its_text_stays_bare():
    assert labels_of([0.05])[0] == ()
