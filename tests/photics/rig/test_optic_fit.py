"""The beam that stands for a measured distribution."""

import doctest

import numpy as np
import pytest

from apps.photics.photometry.ies import read_ies
from apps.photics.rig import optic_fit
from apps.photics.rig.optic_fit import fit_optic, model_shape
from tests.photics.photometric_files import ies_text, lobe

DEGREES = tuple(range(0, 91, 1))


def own_shape(beam_deg):
    """Text of a file that holds the light field's own shape at a beam."""
    return ies_text(None, vertical=DEGREES, values=[model_shape(beam_deg, np.array(DEGREES))])


@pytest.mark.parametrize("beam", [20, 55, 90, 140])
def test_own_shape_is_recovered(beam):
    found = fit_optic(read_ies(own_shape(beam)))
    # The file is straight between whole degrees.
    assert found.beam_deg == pytest.approx(beam, abs=1)
    assert found.misplaced < 0.01


@pytest.mark.parametrize(("exponent", "half_deg"), [(1, 60), (4, 32.77)])
def test_cosine_lobe_gets_about_its_own_beam(exponent, half_deg):
    text = ies_text(lambda a, c: lobe(a, c, exponent=exponent), vertical=DEGREES)
    found = fit_optic(read_ies(text))
    # Another shape: its sharper edge needs a wider beam to place the same light.
    assert 1 < found.beam_deg / (2 * half_deg) < 1.2
    assert found.misplaced < 0.06


def test_ring_of_light_is_told_to_fit_badly():
    ring = [float(30 <= a <= 40) for a in DEGREES]
    found = fit_optic(read_ies(ies_text(None, vertical=DEGREES, values=[ring])))
    assert found.misplaced > 0.3


def test_light_upward_is_counted_out():
    even = ies_text(None, vertical=(0, 45, 90, 135, 180), values=[[100] * 5])
    assert fit_optic(read_ies(even)).upward == pytest.approx(0.5, abs=0.01)


def test_light_that_all_goes_up_has_no_beam():
    up = ies_text(None, vertical=(90, 135, 180), values=[[0, 100, 100]])
    assert fit_optic(read_ies(up)) is None


def test_docstring_examples():
    assert doctest.testmod(optic_fit).failed == 0
