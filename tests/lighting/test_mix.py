"""The colour of a fixture's mix, moved at constant PAR."""

import pytest
from django.urls import reverse

from apps.lighting.fixture.mixing import asked_mix, mix_look
from tests.factories import make_fixture

CHANNELS = [
    {"name": "Blue", "peak_nm": 450, "share_percent": 60},
    {"name": "White", "white_kelvin": 10000, "share_percent": 30},
    {"name": "Red", "peak_nm": 660, "share_percent": 10},
]


@pytest.fixture
def bar(owner):
    return make_fixture(owner, name="Sun bar", channels=CHANNELS, watts=100, ppf_umol_s=200)


def url(fixture):
    return reverse("fixture_mix", args=[fixture.pk])


def par(levels):
    return sum(level * row["share_percent"] for level, row in zip(levels, CHANNELS, strict=True))


@pytest.mark.parametrize("asked", [(40, 60, 60), (60, 90, 60), (60, 60, 0), (30, 60, 20)])
def test_par_stays_whatever_moves(bar, asked):
    mix = asked_mix(bar, (60, 60, 60), asked)
    assert par(mix.levels) == pytest.approx(par((0.6, 0.6, 0.6)), rel=1e-9)
    # The one channel that was moved stands where it was put.
    if sum(level != 60 for level in asked) == 1:
        at = next(i for i, level in enumerate(asked) if level != 60)
        assert mix.levels[at] == pytest.approx(asked[at] / 100)


def test_rounding_of_the_sliders_moves_nothing(bar):
    kept = (59.66, 60.04, 61.27)
    assert asked_mix(bar, kept, (59.7, 60.0, 61.3)).levels == pytest.approx([k / 100 for k in kept])


def test_channel_that_nothing_can_make_up_for_stops(bar):
    mix = asked_mix(bar, (90, 90, 90), (10, 90, 90))
    # White and red at full level give 40 of the 90 kept: blue must give 50 of its 60.
    assert mix.levels == pytest.approx((50 / 60, 1, 1))
    assert "Blue stops at 83 %" in mix.words


def test_mix_beyond_full_level_says_what_it_reaches(bar):
    mix = asked_mix(bar, (90, 90, 90), (5, 100, 50))
    assert "The brightest channel is at full level" in mix.words and max(mix.levels) == 1


def test_shares_are_those_of_the_channels(bar):
    look = mix_look(bar, asked_mix(bar, (60, 0, 60), (60, 0, 60)))
    # Blue alone and red alone, 60 to 10; a Gaussian of 20 nm leaves nothing in the other bands.
    assert look.blue_percent == pytest.approx(600 / 7, abs=0.1)
    assert look.red_percent == pytest.approx(100 / 7, abs=0.1)


def test_yield_of_all_channels_is_output_over_watts(bar):
    look = mix_look(bar, asked_mix(bar, (50, 50, 50), (50, 50, 50)))
    assert look.made.umol_j == pytest.approx(2.0)
    assert (look.made.low_umol_j, look.made.high_umol_j) == pytest.approx((1.8, 2.2))


def test_red_photons_cost_less_than_blue_ones(bar):
    red = mix_look(bar, asked_mix(bar, (0, 0, 50), (0, 0, 50))).made.umol_j
    blue = mix_look(bar, asked_mix(bar, (50, 0, 0), (50, 0, 0))).made.umol_j
    # At the same share of electricity turned into light: photons a joule go with wavelength.
    assert red / blue == pytest.approx(660 / 450, rel=0.01)


def test_without_watts_no_yield_is_claimed(bar):
    bar.watts = None
    assert mix_look(bar, asked_mix(bar, (50, 50, 50), (50, 50, 50))).made is None


def test_page_moves_and_warns(as_user, owner, bar):
    client = as_user(owner)
    little_red = {"level0": "60", "level1": "60", "level2": "10", "fresh": "1"}
    assert "Within what reef mixes" in client.get(url(bar), little_red).content.decode()
    page = client.get(url(bar), {"was0": "60", "was1": "60", "was2": "60", "level2": "100"})
    body = page.content.decode()
    assert 'value="100.0"' in body and "60 % of what all channels give" in body
    red = client.get(url(bar), {"level0": "0", "level1": "20", "level2": "90", "fresh": "1"})
    assert "typical of the trade, no published source" in red.content.decode()
    assert red.content.decode().count("Red light is") == 1


def test_fragment_comes_alone(as_user, owner, bar):
    body = as_user(owner).get(url(bar), headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in body and 'id="fixture-mix"' in body


def test_nonsense_is_told_and_the_mix_stays(as_user, owner, bar):
    response = as_user(owner).get(url(bar), {"level0": "lots"})
    assert response.status_code == 422 and "“lots” is not a number" in response.content.decode()


@pytest.mark.parametrize("levels", [("0", "0", "0"), ("-5", "1e9", "nan")])
def test_edges_are_answered(as_user, owner, bar, levels):
    params = {f"level{i}": level for i, level in enumerate(levels)}
    assert as_user(owner).get(url(bar), params).status_code in (200, 422)
    assert as_user(owner).get(url(bar), params | {"fresh": "1"}).status_code in (200, 422)


def test_fixture_without_channels_says_so(as_user, owner):
    body = as_user(owner).get(url(make_fixture(owner))).content.decode()
    assert "not told yet" in body


@pytest.mark.parametrize("who", ["co_keeper", "viewer", "stranger"])
def test_library_is_its_owners_alone(request, as_user, tank, bar, who):
    assert as_user(request.getfixturevalue(who)).get(url(bar)).status_code == 404
