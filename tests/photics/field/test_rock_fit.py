"""Rocks that readings contradict are taken otherwise; glass and overflow are as stated."""

from dataclasses import replace

import numpy as np
import pytest

from apps.photics.field.light_field import fit_light_field
from apps.photics.field.rock_fit import RockFit, scaled, softened
from apps.photics.ground.scene import Brace, Fixture, Rock, Tank
from apps.photics.rig.rig import Rig

TANK = Tank(90, 50, 45)
LAMPS = (Fixture(24, 25, 20, 100, 18, 18), Fixture(66, 25, 20, 100, 18, 18))
ROCK = Rock(34, 14, 18, 22, 22, 27)


def readings(rocks, tank=TANK, noise=0.02):
    """Return points outside the box of ROCK, close beside it too, and the light of LAMPS there."""
    rng = np.random.default_rng(2)
    beside = np.column_stack(
        [rng.uniform(20, 70, 120), rng.uniform(4, 46, 120), rng.uniform(24, 44, 120)]
    )
    spread = rng.uniform(0, 1, (40, 3)) * (84, 44, 40) + 3
    points = np.concatenate([beside, spread])
    points = points[~ROCK.holds(*points.T)][:80]
    rig = Rig(tank, LAMPS, rocks)
    theta = rig.nominal()
    theta[:2] += 14.0
    light = np.exp(rig.log_light_at(points, theta)[0])
    return points, light * np.exp(rng.normal(0, noise, len(points)))


@pytest.mark.parametrize(
    ("true", "taken"),
    [
        ((ROCK,), ()),
        ((), (RockFit(0, 0.0),)),
        ((scaled(ROCK, 0.75),), (RockFit(0, 0.75),)),
        ((softened(ROCK),), (RockFit(0, is_soft=True),)),
    ],
    ids=["as stated", "away", "smaller", "soft"],
)
def test_a_rock_is_taken_as_readings_show_it(true, taken):
    points, par = readings(true)
    field = fit_light_field(points, par, tank=TANK, fixtures=LAMPS, rocks=(ROCK,))
    assert field.rock_fits == taken
    # Guessed fixtures may make up for a part of a shadow, so how it differs is less sure.
    guessed = fit_light_field(points, par, tank=TANK, rocks=(ROCK,))
    assert [fit.number for fit in guessed.rock_fits] == [fit.number for fit in taken]


@pytest.mark.parametrize("fixtures", [LAMPS, ()], ids=["known", "guessed"])
def test_overflow_and_brace_are_as_stated_whatever_readings_show(fixtures):
    points, par = readings(())
    brace = Brace(40, 0, 8, 50, 0.3)
    tank = replace(TANK, overflow=ROCK, braces=(brace,))
    field = fit_light_field(points, par, tank=tank, fixtures=fixtures)
    assert field.rock_fits == ()
    if field.calibrated is not None:
        assert field.calibrated.rig.tank == tank and field.calibrated.rig.rocks == ()


def test_a_soft_rock_lets_the_rays_at_its_sides_pass_and_not_those_through_it():
    points, _ = readings(())
    theta = Rig(TANK, LAMPS).nominal()
    none, soft, hard = (
        Rig(TANK, LAMPS, rocks).log_light_at(points, theta)[0]
        for rocks in ((), (softened(ROCK),), (ROCK,))
    )
    assert (soft >= hard - 1e-9).all() and (soft <= none + 1e-9).all()
    assert (soft - hard).max() > 0.1 and (none - soft).max() > 0.3
