"""One scale of colours for every drawing of PAR, and the legend that explains it."""

import re

import numpy as np
import pytest

from apps.drawing.contours import TWO_WAY
from apps.drawing.drawn_light import wanted_of
from apps.drawing.legend import (
    CHANGE_LEVELS,
    PAR_LEVELS,
    PAR_SCALE,
    Scale,
    is_dark,
    legend_of,
    luminance,
    place_on,
)

INK, PAPER = "#16222a", "#fffdf7"


def contrast(first, second):
    """WCAG 2.2: (lighter + 0.05) / (darker + 0.05)."""
    darker, lighter = sorted((luminance(first), luminance(second)))
    return (lighter + 0.05) / (darker + 0.05)


def test_luminance_follows_the_published_ends():
    # WCAG 2.2: black 0, white 1, contrast 21 : 1; sRGB red 0.2126.
    assert luminance("#000000") == 0 and luminance("#ffffff") == pytest.approx(1)
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert luminance("#ff0000") == pytest.approx(0.2126)


def test_brighter_light_is_a_brighter_colour():
    assert len(PAR_SCALE.colours) == len(PAR_LEVELS) + 1
    assert (np.diff([luminance(colour) for colour in PAR_SCALE.colours]) > 0).all()


@pytest.mark.parametrize("colour", PAR_SCALE.colours)
def test_lines_stand_out_from_every_band(colour):
    assert contrast(colour, PAPER if is_dark(colour) else INK) >= 3


def test_a_value_at_a_level_belongs_to_the_band_above():
    assert PAR_SCALE.colour_of(149.9) == PAR_SCALE.colours[5]
    assert PAR_SCALE.colour_of(150.0) == PAR_SCALE.colours[6]


def test_places_on_the_legend_are_those_of_its_levels():
    cells = legend_of(PAR_SCALE).cells
    for level, cell in zip(PAR_LEVELS, cells[:-1], strict=True):
        assert place_on(PAR_SCALE, level) == pytest.approx(float(cell.right), abs=0.06)
    assert place_on(PAR_SCALE, 0) == 0
    assert place_on(PAR_SCALE, 5) < place_on(PAR_SCALE, 20) < place_on(PAR_SCALE, 25)
    assert place_on(PAR_SCALE, 600) < place_on(PAR_SCALE, 900) < 360


def test_legend_veils_what_is_not_wanted():
    scale = Scale(PAR_LEVELS, PAR_SCALE.colours, wanted=(75.0, 150.0))
    legend = legend_of(scale)
    (left, width), (right, rest) = [[float(n) for n in pair] for pair in legend.outside]
    assert (left, width) == (0, float(legend.cells[2].right))
    assert right == float(legend.cells[5].right) and right + rest == pytest.approx(360)
    assert legend_of(PAR_SCALE).outside == () and legend_of(PAR_SCALE).bracket == ""


def test_only_the_wanted_band_lies_bare():
    x, y = np.linspace(0, 100, 101), np.linspace(0, 10, 11)
    values = np.tile(x, (11, 1))
    unwanted, edge = wanted_of(x, y, values, Scale((), ("#000000",), wanted=(30.0, 60.0)))
    ends = {round(float(n)) for n in re.findall(r"[ML]([\d.]+) ", edge)}
    assert ends == {30, 60}
    spans = [
        [float(n) for n in re.findall(r"[ML]([\d.]+) ", ring)] for ring in unwanted.split("Z")[:-1]
    ]
    assert sorted((round(min(s)), round(max(s))) for s in spans) == [(0, 30), (60, 100)]
    assert wanted_of(x, y, values, Scale((), ("#000000",))) == ("", "")


def test_change_has_paper_in_the_middle_and_equal_strength_on_both_sides():
    assert len(TWO_WAY) == len(CHANGE_LEVELS) + 1
    steps = [luminance(colour) for colour in TWO_WAY]
    assert (np.diff(steps[:5]) > 0).all() and (np.diff(steps[4:]) < 0).all()
    assert np.allclose(steps[:4], steps[:4:-1], atol=0.06)
