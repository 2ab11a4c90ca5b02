"""A value against its band on a line: true proportions, held to the drawing."""

import pytest

from apps.drawing.gauge import band_gauge


def gauge_of(value, *, low=None, high=None):
    return band_gauge(
        value,
        low=value if low is None else low,
        high=value if high is None else high,
        band_low=100,
        band_high=200,
    )


def test_middle_of_the_band_lies_in_its_middle():
    gauge = gauge_of(150)
    assert gauge.mark.at == pytest.approx(gauge.band.at + gauge.band_width / 2, abs=0.02)


def test_end_of_the_band_lies_on_its_end():
    assert gauge_of(200).mark.at == gauge_of(200).band_end.at


def test_light_of_nothing_is_still_drawn():
    gauge = gauge_of(0)
    assert gauge.mark.at == 0 and gauge.anchor == "start"


def test_far_beyond_the_band_the_line_ends_and_says_so():
    gauge = gauge_of(5000)
    assert gauge.mark.at == 100 and gauge.is_beyond and gauge.band_width > 20


def test_interval_covers_its_ends():
    gauge = gauge_of(150, low=120, high=190)
    assert gauge.interval.at < gauge.mark.at < gauge.interval.at + gauge.interval_width
