"""Ramps of light: even, slow enough, and arriving."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.photics.day.acclimation import PACES, REFERENCE_LIGHTS, ramp, settings_for

LIGHT = st.floats(1.0, 2000.0)
RATE = st.floats(0.01, 0.5)


@given(start=LIGHT, end=LIGHT, rate=RATE, least=st.integers(0, 60), every=st.integers(1, 14))
@settings(derandomize=True, max_examples=300)
def test_a_ramp_is_monotone_keeps_its_rate_and_arrives(start, end, rate, least, every):
    made = ramp(start, to_light=end, rate=rate, least_days=least, every_days=every)
    whole = np.concatenate([[start], made.light])
    ratio = whole[1:] / whole[:-1]
    assert made.light[-1] == end
    assert np.all(ratio >= 1 - 1e-12) if end >= start else np.all(ratio <= 1 + 1e-12)
    # Rounding of a product of ratios: far below what any lamp can be set to.
    assert np.all(np.maximum(ratio, 1 / ratio) <= (1 + rate) * (1 + 1e-8))


@given(start=LIGHT, end=LIGHT, rate=RATE, least=st.integers(0, 60), every=st.integers(1, 14))
@settings(derandomize=True, max_examples=300)
def test_a_ramp_takes_the_days_it_was_given(start, end, rate, least, every):
    made = ramp(start, to_light=end, rate=rate, least_days=least, every_days=every)
    assert np.all(np.diff(made.day) == every)
    assert made.days >= least or math.isclose(start, end, rel_tol=1e-8)


def test_a_ramp_has_no_more_steps_than_rate_and_length_ask():
    # 6 to 32 mol is the change of DiPerna et al. 2018: ln(32/6) / ln 1.15 = 11.98 steps.
    made = ramp(6.0, to_light=32.0, rate=0.15, least_days=21, every_days=2)
    assert len(made.light) == 12
    assert made.days == 22


def test_a_long_pace_makes_steps_smaller_than_the_rate():
    made = ramp(100.0, to_light=120.0, rate=0.2, least_days=21, every_days=3)
    assert len(made.light) == 8
    assert made.light[0] == pytest.approx(100 * 1.2 ** (1 / 8))


def test_no_change_of_light_is_one_step():
    assert ramp(150.0, to_light=150.0, rate=0.1, least_days=21, every_days=3).light.tolist() == [
        150.0
    ]


@pytest.mark.parametrize("wrong", [{"rate": 0.0}, {"every_days": 0}, {"least_days": -1}])
def test_a_ramp_refuses_what_is_no_way(wrong):
    with pytest.raises(ValueError, match="rate"):
        ramp(100.0, to_light=200.0, **({"rate": 0.1, "least_days": 5, "every_days": 2} | wrong))


def test_a_ramp_out_of_the_dark_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        ramp(0.0, to_light=200.0, rate=0.1, least_days=5, every_days=2)


def test_settings_are_found_between_those_tried():
    light = [100 * math.exp(-h / 20) for h in range(0, 60, 10)]
    found = settings_for([60.0, 80.0], range(0, 60, 10), light)
    assert found == pytest.approx([-20 * math.log(0.6), -20 * math.log(0.8)])


def test_a_light_no_setting_gives_is_nan():
    assert np.isnan(settings_for([10.0], [0, 10], [100.0, 50.0]))[0]


def test_the_nearest_of_two_settings_is_taken():
    assert settings_for([75.0], [0, 10, 20], [100.0, 50.0, 100.0])[0] < 10


def test_the_paces_stand_in_the_published_spans():
    # DiPerna et al. 2018: 3-5 d and more than 20 d; J Exp Biol 222:jeb195982: within 21 d.
    fast, typical, slow = (pace.least_days for pace in PACES)
    assert 3 <= fast <= 5
    assert typical == 21
    assert slow > 20


def test_reference_lights_are_the_published_ones():
    # Bessell-Browne et al. 2017; DiPerna et al. 2018.
    assert [(r.low_mol, r.high_mol) for r in REFERENCE_LIGHTS] == [(1.2, 1.9), (6, 6), (32, 32)]
