"""What a new optic has of an old one's shape where nobody said what shapes either."""

import numpy as np
import pytest

from apps.photics.ground.scene import EMITTERS, Fixture
from apps.photics.rig.nominal import EMITTER_EDGE
from apps.photics.rig.optic_kinds import (
    ALIKE,
    VARIANCE_BACK,
    OpticsKnown,
    ShapeEvidence,
    by_kind,
    carried_shape,
    likely_kinds,
    prior_variance,
    shape_evidence,
    usual_shape,
)

EDGE = 1
SILENT = ShapeEvidence(np.zeros((3, 3)), np.zeros(3))


def fixture(beam_deg, emitter=""):
    return Fixture(30, 30, 20, beam_deg, 10, 10, emitter=emitter)


def evidence_at(shape, precision):
    """Return readings that say a shape (3,), each part of it as precisely."""
    whole = precision * np.eye(3)
    return ShapeEvidence(whole, whole @ shape)


@pytest.mark.parametrize("beam_deg", [40.0, 75.0, 95.0, 115.0, 130.0])
def test_the_weights_of_the_kinds_sum_to_one(beam_deg):
    kinds = likely_kinds(fixture(beam_deg))
    assert set(kinds) == set(EMITTERS) and sum(kinds.values()) == pytest.approx(1)


def test_a_narrow_beam_is_a_lens_or_a_reflector_and_a_wide_one_most_likely_bare():
    narrow, wide = likely_kinds(fixture(60)), likely_kinds(fixture(120))
    assert narrow["lens"] == narrow["reflector"] and narrow["lens"] + narrow["reflector"] == 0.9
    assert max(wide, key=wide.get) == "bare"


def test_a_kind_that_is_stated_is_the_only_one():
    assert likely_kinds(fixture(60, "diffuser")) == {"diffuser": 1.0}


def test_readings_tell_a_lens_from_a_reflector():
    old = fixture(60)
    weights = {
        shaped: {one.kind: one.weight for one in by_kind(evidence_at(usual, 30.0), old)}
        for shaped in ("lens", "reflector")
        for usual in [usual_shape(old, shaped)]
    }
    assert weights["lens"]["lens"] > 0.85 and weights["reflector"]["lens"] < 0.2


def test_readings_that_say_nothing_leave_the_kinds_as_likely_as_before():
    old = fixture(85)
    weights = {one.kind: one.weight for one in by_kind(SILENT, old)}
    assert weights == pytest.approx(likely_kinds(old))


def test_between_stated_kinds_a_shape_follows_by_what_is_usual_of_both():
    old, new = fixture(100, "reflector"), fixture(60, "lens")
    seen = usual_shape(old, "reflector") + np.array([0.1, 0.2, 0.3])
    one = carried_shape(OpticsKnown(evidence_at(seen, 1e6)), old, new)
    assert one.mean == pytest.approx(
        usual_shape(new, "lens") + ALIKE * np.array([0.1, 0.2, 0.3]), abs=1e-3
    )
    assert np.diag(one.carry) == pytest.approx(ALIKE)
    assert one.covariance == pytest.approx(np.diag(VARIANCE_BACK * prior_variance()))


def test_kinds_that_are_not_told_apart_are_matched_by_mean_and_variance():
    """By hand, of an old lens nothing read: a lens and a reflector of equal chance, but that the
    new one is twice as likely of the old one's kind: edges weighed 2 to 1."""
    old, new = fixture(80, "lens"), fixture(60)
    known = OpticsKnown(SILENT).of_kinds(new, {"lens": 0.5, "reflector": 0.5})
    one = carried_shape(known, old, new)
    edges = np.array([EMITTER_EDGE["lens"], EMITTER_EDGE["reflector"]])
    weights = np.array([2, 1]) / 3
    between = weights @ (edges - weights @ edges) ** 2
    within = VARIANCE_BACK[EDGE] * prior_variance()[EDGE]
    assert one.mean[EDGE] == pytest.approx(weights @ edges)
    assert one.covariance[EDGE, EDGE] == pytest.approx(within + between)


def test_the_prior_is_divided_out_of_the_posterior():
    rng = np.random.default_rng(2)
    prior, unread = rng.normal(size=12), np.diag(rng.uniform(0.5, 2.0, 12))
    slopes, values = rng.normal(size=(40, 12)), rng.normal(size=40)
    # Of the shape alone, whatever the others are taken for.
    slopes[:, [0, 1, 2, 3, 7, 8, 9, 10, 11]] = 0.0
    precision = slopes.T @ slopes
    covariance = np.linalg.inv(np.linalg.inv(unread) + precision)
    mean = covariance @ (np.linalg.inv(unread) @ prior + slopes.T @ values)
    known = shape_evidence(1, mean, covariance, prior, unread)
    at = slice(4, 7)
    assert known.precision == pytest.approx(precision[at, at])
    assert known.pull == pytest.approx((slopes.T @ values)[at])
