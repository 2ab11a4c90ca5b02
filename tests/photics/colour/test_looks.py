"""Two photos compared: one phone's look cancels, two phones' looks widen the interval."""

import numpy as np
import pytest

from apps.photics.colour.coral_colour import measure
from apps.photics.colour.looks import ComparedColour, difference_between, pair_covariance
from apps.photics.colour.scales import CHI2_3_90, difference_of
from tests.photics.phone_looks import CARD_AT, CORAL_AT, QUADS, Look, Scene, card_region, photograph
from tests.photics.rendered import coral

PLAIN, VIVID = Look(), Look(saturation=1.25, contrast=0.35, gamma=0.95, sharpening=0.6)


def colour(look, reflectance, *, carded=False, **odd):
    scene = Scene(reflectance, quad=QUADS["straight"] if carded else None, exposure=0.6, **odd)
    kind = "card" if carded else "white"
    found = measure(photograph(look, scene), reference=card_region(scene) if carded else CARD_AT,
                    regions=[CORAL_AT], reference_kind=kind, light="white")  # fmt: skip
    return ComparedColour(found.lab, found.covariance, kind, "white", found.card)


def test_unchanged_colour_by_another_phone_is_no_change_when_that_is_known():
    reflectance = coral("green", 0.5)
    before, after = colour(PLAIN, reflectance), colour(VIVID, reflectance, seed=2)
    assert difference_between(after, before, same_look=True).low > 0
    assert difference_between(after, before, same_look=False).low == 0


def test_printed_card_takes_two_looks_out_without_widening():
    reflectance = coral("green", 0.5)
    before, after = (colour(look, reflectance, carded=True) for look in (PLAIN, VIVID))
    apart = difference_between(after, before, same_look=False)
    assert apart.low == 0 and apart.value < 2.0
    told = pair_covariance(after, before, same_look=True)
    assert pair_covariance(after, before, same_look=False) == pytest.approx(told)


def test_bleaching_shows_by_another_phone_too():
    before, after = colour(PLAIN, coral("green", 1.0)), colour(VIVID, coral("green", 0.1), seed=2)
    assert difference_between(after, before, same_look=False).low > 0


def test_cards_interval_is_narrower_than_two_phones_without():
    reflectance = coral("plain", 1.0)
    widths = []
    for carded in (True, False):
        before, after = (colour(look, reflectance, carded=carded) for look in (PLAIN, VIVID))
        widths.append(np.trace(pair_covariance(after, before, same_look=False)))
    assert widths[0] < widths[1] / 2


def test_another_print_cancels_nothing():
    reflectance = coral("plain", 1.0)
    before = colour(PLAIN, reflectance, carded=True)
    same = colour(PLAIN, reflectance, carded=True, seed=3)
    other = colour(PLAIN, reflectance, carded=True, seed=3, print_gains=(1.1, 0.92, 1.1, 0.9))
    told = [np.trace(pair_covariance(o, before, same_look=False)) for o in (same, other)]
    assert told[1] > 2 * told[0]


@pytest.mark.parametrize(("factor", "apart"), [(0.99, False), (1.01, True)])
def test_colours_are_told_apart_from_the_ellipsoid_of_ninety_percent_on(factor, apart):
    base = np.array([60.0, 5.0, 27.0])
    moved = base + np.array([np.sqrt(CHI2_3_90) * factor * 2.0, 0.0, 0.0])
    assert (difference_of(moved, base, np.eye(3) * 4.0).low > 0) == apart


def test_no_covariance_of_a_pair_is_negative():
    one, two = colour(PLAIN, coral("plain", 1.0)), colour(PLAIN, coral("plain", 1.0), seed=2)
    covariance = pair_covariance(two, one, same_look=True)
    assert np.linalg.eigvalsh(covariance).min() > 0
