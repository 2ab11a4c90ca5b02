"""What shapes a beam, stated: a lens of another kind is foretold by what such emitters throw."""

import json
from dataclasses import replace

import numpy as np
import pytest

from apps.photics.field.light_field import fit_light_field
from apps.photics.ground.scene import EMITTERS, Fixture
from apps.photics.rig.nominal import EMITTER_EDGE, EMITTER_SPILL, usual_edge
from tests.photics.changed import FOLDER, changes_of

# Tanks whose narrower optic is of another kind than the first.
STEMS = ("tank-1", "tank-3", "tank-5")


def stated(change, old, new):
    """Return a Changed whose fixtures state what shapes their beams."""
    beams = {fixture.beam_deg for fixture in change.before}
    return replace(
        change,
        before=tuple(replace(f, emitter=old) for f in change.before),
        after=tuple(replace(f, emitter=old if f.beam_deg in beams else new) for f in change.after),
    )


def error_and_coverage(change):
    field = fit_light_field(
        change.points_cm, change.par_umol, tank=change.tank, fixtures=change.before
    )
    light = field.forecast(change.after, same_as=change.same_as).at(change.truth_points_cm)
    truth = change.truth_umol
    held = (light.low_umol <= truth) & (truth <= light.high_umol)
    return 100 * np.median(np.abs(light.par_umol / truth - 1)), 100 * held.mean()


def test_stating_the_emitters_takes_a_third_off_the_error_under_another_optic():
    alone, told = [], []
    for stem in STEMS:
        kinds = json.loads((FOLDER / f"{stem}.json").read_text())["optics"]
        for change in changes_of(stem):
            if "narrower" in change.name:
                alone.append(error_and_coverage(change))
                told.append(error_and_coverage(stated(change, *kinds)))
    without, with_emitters = np.mean(alone, axis=0), np.mean(told, axis=0)
    assert with_emitters[0] < 0.7 * without[0]
    assert with_emitters[1] > 88


def test_every_emitter_has_an_edge_and_a_spill():
    assert set(EMITTER_EDGE) == set(EMITTER_SPILL) == set(EMITTERS)


@pytest.mark.parametrize("beam_deg", [50.0, 120.0])
def test_a_cosine_power_has_an_edge_of_one(beam_deg):
    """I = cos^m: in u = -ln cos it is exp(-m u), of which the edge, the power of u, is 1."""
    fixture = Fixture(30, 30, 20, beam_deg, 10, 10, emitter="bare")
    assert usual_edge(fixture) == 1.0


def test_nothing_stated_is_as_before():
    narrow, wide = (Fixture(30, 30, 20, beam, 10, 10) for beam in (60.0, 120.0))
    assert (usual_edge(narrow), usual_edge(wide)) == (1.6, 1.2)
