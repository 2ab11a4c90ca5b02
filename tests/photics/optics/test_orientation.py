"""Tilted fixtures and measured optics: photons counted one by one, and files followed."""

import doctest
from dataclasses import replace

import numpy as np
import pytest

from apps.photics.ground.measured_optic import ANGLES_DEG, TURNS_DEG, MeasuredOptic, measured_optic
from apps.photics.ground.scene import Fixture, Tank
from apps.photics.ground.water import WATER_INDEX, fresnel
from apps.photics.layout.planned_light import planned_field
from apps.photics.optics import orientation
from apps.photics.photometry.ies import read_ies
from apps.photics.rig.fixture_light import output_estimate
from apps.photics.rig.nominal import ATTENUATION, BOTTOM, EDGE, SPILL
from apps.photics.rig.optic_fit import fit_optic, model_shape
from apps.photics.rig.rig import Rig
from tests.photics.photometric_files import ies_text, lopsided
from tests.photics.point_source import beam_exponent

WIDE = Tank(400.0, 400.0, 30.0)
TILTED = Fixture(200, 170, 25, 60, 0.5, 0.5, tilt_deg=25.0)
DEGREES = tuple(range(0, 91, 1))


def bare_parameters(rig):
    """The rig as a plain cos^m lobe in clear water over a black bottom."""
    theta = rig.nominal()
    shared = 4 * rig.many
    theta[shared + EDGE] = 1.0
    theta[[shared + SPILL, shared + BOTTOM, shared + ATTENUATION]] = -40.0
    return theta


def photons_landing(fixture, depth_cm, edges_cm, *, many=2_000_000, seed=5):
    """Count photons of a cos^m lobe about a tilted axis into cells of y, along x = x of the lamp.

    An independent path: directions drawn, turned, bent by Snell, weighed by Fresnel. Returns PAR
    for axial intensity 1 in a strip 4 cm wide, (cells,).
    """
    rng = np.random.default_rng(seed)
    exponent = beam_exponent(fixture.beam_deg)
    cosine = rng.uniform(size=many) ** (1.0 / (exponent + 1.0))
    turn, sine = rng.uniform(0, 2 * np.pi, many), np.sqrt(1.0 - cosine**2)
    x, y = sine * np.cos(turn), sine * np.sin(turn)
    tilt = np.radians(fixture.tilt_deg)
    y, down = y * np.cos(tilt) + cosine * np.sin(tilt), cosine * np.cos(tilt) - y * np.sin(tilt)
    x, y, down = (part[down > 0.01] for part in (x, y, down))
    passed = 1.0 - fresnel(down, index_from=1.0, index_to=WATER_INDEX)
    below = np.sqrt(1.0 - (1.0 - down**2) / WATER_INDEX**2)
    reach = fixture.height_cm / down + depth_cm / WATER_INDEX / below
    strip = np.abs(x * reach) < 2.0
    counts, _ = np.histogram((fixture.y_cm + y * reach)[strip], edges_cm, weights=passed[strip])
    sent = 2.0 * np.pi / (exponent + 1.0) / many
    return counts * sent / (4.0 * np.diff(edges_cm))


def test_a_tilted_lobe_lands_where_photons_do():
    rig = Rig(WIDE, [TILTED])
    edges = np.arange(160.0, 221.0, 6.0)
    counted = photons_landing(TILTED, 20.0, edges)
    # Means over the same cells: 12 places along each, 3 across.
    fine = edges[0] + (np.arange(120) + 0.5) * 0.5
    cells = np.array([(200 + x, y, 20.0) for y in fine for x in (-4 / 3, 0, 4 / 3)])
    light = np.exp(rig.log_light_at(cells, bare_parameters(rig))[0]).reshape(10, -1).mean(axis=1)
    # 2 million photons, some 10,000 to a cell: within a percent, three at the dim ends.
    np.testing.assert_allclose(light, counted, rtol=0.03)
    assert counted.argmax() != 1, "the tilt moves the brightest place off the lamp's own"


def test_tilting_back_and_turning_round_is_tilting_forward():
    points = np.random.default_rng(3).uniform((170, 150, 3), (230, 250, 28), (40, 3))
    base = Fixture(200, 200, 25, 70, 40, 12)
    one, other = (
        Rig(WIDE, [replace(base, tilt_deg=tilt, turn_deg=turn)])
        for tilt, turn in ((20.0, 180.0), (-20.0, 0.0))
    )
    np.testing.assert_allclose(
        one.log_light_at(points, one.nominal())[0], other.log_light_at(points, other.nominal())[0]
    )


def test_a_level_fixture_among_tilted_ones_gives_what_it_gives_alone():
    points = np.random.default_rng(4).uniform((150, 150, 3), (250, 250, 28), (30, 3))
    level = Fixture(180, 200, 25, 70, 40, 12, turn_deg=30)
    alone, among = Rig(WIDE, [level]), Rig(WIDE, [level, TILTED])
    light = [r.light_by_origin(points, r.nominal())[0][:, 0] for r in (alone, among)]
    assert alone.orientations is None and among.orientations is not None
    np.testing.assert_allclose(*light, rtol=1e-12)


def lopsided_optic(beam_deg):
    """An optic with twice the light on one side, beside the lobe of a beam."""
    one_side = 1.0 + 0.5 * np.cos(np.radians(TURNS_DEG)) * np.sin(np.radians(ANGLES_DEG))[:, None]
    lobe = model_shape(beam_deg, ANGLES_DEG)
    return measured_optic(one_side * lobe[:, None], lobe)


def test_derivatives_of_tilted_and_measured_fixtures_are_those_of_the_light():
    rig = Rig(
        WIDE,
        [
            Fixture(180, 200, 25, 90, 20, 15, turn_deg=20, tilt_deg=30),
            Fixture(220, 190, 24, 60, 30, 12, optic=lopsided_optic(60), tilt_deg=-15, turn_deg=65),
            Fixture(200, 215, 30, 80, 10, 10, optic=lopsided_optic(80)),
        ],
    )
    points = np.random.default_rng(2).uniform((160, 170, 3), (240, 230, 28), (40, 3))
    theta = rig.nominal()
    _, slopes, place = rig.log_light(rig.geometry(points), theta)

    def differences(light, step):
        return (light(step) - light(-step)) / (2 * np.abs(step).max())

    for k in range(len(theta)):
        step = np.zeros(len(theta))
        step[k] = 1e-5
        found = differences(lambda by: rig.log_light_at(points, theta + by)[0], step)
        # Optics are straight between nodes: a step over one of them averages two slopes.
        np.testing.assert_allclose(slopes[:, k], found, rtol=4e-3, atol=3e-4)
    for axis in range(3):
        step = np.eye(3)[axis] * 1e-4
        found = differences(lambda by: rig.log_light_at(points + by, theta)[0], step)
        np.testing.assert_allclose(place[:, axis], found, rtol=0.02, atol=2e-3)


@pytest.mark.parametrize("beside", [(), (Fixture(300, 300, 25, 120, 10, 10),)])
def test_the_field_follows_the_file_in_every_direction(beside):
    """At the water's surface: intensity of the file times cos^3 over height squared, in air."""
    photometry = read_ies(ies_text(lopsided, vertical=DEGREES, horizontal=tuple(range(0, 361, 15))))
    fit = fit_optic(photometry)
    speck = Fixture(200, 200, 25, fit.beam_deg, 0.5, 0.5, optic=fit.optic)
    rig = Rig(WIDE, [speck, *beside])
    theta = rig.nominal()
    theta[4 * rig.many + BOTTOM] = -40.0
    dx, dy = np.random.default_rng(6).uniform(-30, 30, (2, 60))
    depth = 1e-3
    points = np.column_stack([200 + dx, 200 + dy, np.full(60, depth)])
    light = rig.light_by_origin(points, theta)[0][:, 0]
    away = np.hypot(dx, dy)
    cosine = 25 / np.hypot(away, 25)
    entering = 1.0 - fresnel(cosine, index_from=1.0, index_to=WATER_INDEX)
    toward = photometry.intensity(
        np.degrees(np.arctan2(away, 25)), turn_deg=np.degrees(np.arctan2(dy, dx))
    )
    expected = toward * cosine**3 / 25**2 * entering
    ratio = light / expected
    # One scale for all: the file is in candela, the rig in its own unit.
    np.testing.assert_allclose(ratio, np.median(ratio), rtol=0.01)


@pytest.mark.parametrize("tilt", [0.0, 20.0])
def test_a_measured_fixture_gives_its_output_whatever_its_shape(tilt):
    """A ring of light, which no lobe fits: what falls on a wide water is the photons sent."""
    ring = [float(20 <= a <= 30) for a in DEGREES]
    fit = fit_optic(read_ies(ies_text(None, vertical=DEGREES, values=[ring])))
    lamp = Fixture(200, 200, 40, fit.beam_deg, 2, 2, optic=fit.optic, tilt_deg=tilt)
    field = planned_field(WIDE, [lamp], [output_estimate(ppf_umol_s=100.0)])
    axis = np.arange(100.0, 300.0, 1.0) + 0.5
    points = np.stack(np.meshgrid(axis, axis, [0.01]), axis=-1).reshape(-1, 3)
    model = field.model.models[0]
    theta = model.theta.copy()
    theta[4 + BOTTOM] = -40.0
    light = np.exp(model.rig.log_light_at(points, theta)[0]).sum() * 1e-4
    # Fresnel: straight down 2.1 % are mirrored off, at 50 degrees 3.5 %.
    assert 96.5 < light < 97.9


def test_a_measured_optic_says_what_is_wrong_with_it():
    row = (0.0,) * len(ANGLES_DEG)
    for rows in ((row, row), (row[:-1],), ((np.nan, *row[1:]),)):
        with pytest.raises(ValueError):
            MeasuredOptic(rows)
    with pytest.raises(ValueError, match="no light down"):
        measured_optic(np.zeros((len(ANGLES_DEG), len(TURNS_DEG))), model_shape(60, ANGLES_DEG))


def test_docstring_examples():
    assert doctest.testmod(orientation).failed == 0
