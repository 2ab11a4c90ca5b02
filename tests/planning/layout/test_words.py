"""The words of layout plans that are chosen from numbers."""

import pytest

from apps.photics.layout.zone_light import ZoneLight
from apps.planning.layout.words import evenness_words, price_words
from tests.planning.questions import small_question


@pytest.mark.parametrize(
    ("price", "words"),
    [(None, "price not given"), (0.0, "nothing"), (200.0, "200"), (199.5, "199.50")],
)
def test_price_in_words(price, words):
    assert price_words(price) == words


@pytest.mark.parametrize(
    ("evenness", "words"),
    [(0.71, "even"), (0.69, "fairly even"), (0.51, "fairly even"), (0.49, "uneven"), (0, "uneven")],
)
def test_evenness_in_a_word(evenness, words):
    assert evenness_words(evenness) == words


def zone_light(**percents):
    """Return a ZoneLight of the one zone of the small question, of these shares."""
    shares = {"in_band_percent": 100.0, "dim_percent": 0.0, "bright_percent": 0.0} | percents
    rest = dict.fromkeys(set(ZoneLight.__annotations__) - set(shares) - {"zone"}, 1.0)
    return ZoneLight(zone=small_question().zones[0], **shares, **rest)


@pytest.mark.parametrize(("percent", "named"), [(0.49, False), (0.5, True)])
def test_a_part_out_of_its_band_is_named_from_half_a_percent(percent, named):
    assert zone_light(dim_percent=percent).is_partly_dim == named
    assert zone_light(bright_percent=percent).is_partly_bright == named


@pytest.mark.parametrize(
    ("shares", "state"),
    [
        ((80.0, 15.0, 5.0), "within"),
        ((79.0, 11.0, 10.0), "below"),
        ((79.0, 10.0, 11.0), "above"),
    ],
)
def test_a_zone_lies_where_most_of_it_does(shares, state):
    names = ("likely_percent", "dim_percent", "bright_percent")
    assert zone_light(**dict(zip(names, shares, strict=True))).state == state
