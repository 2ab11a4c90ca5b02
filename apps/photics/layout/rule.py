"""The rule of thumb for a tank's fixtures, and by how much this tank is another case.

Common practice, no published source: one mid-power fixture for each 2 x 2 ft of footprint gives
75 to 150, two give what SPS want; about 8 in above the water with a wide optic, about 13 in with
a narrow one.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.scene import Fixture, Tank
from apps.photics.layout.light_lost import spill_share
from apps.photics.layout.places import (
    PITCHES,
    Pattern,
    grids,
    snapped,
)
from apps.photics.layout.question import Choice
from apps.photics.layout.score import Layout, Scorer

PATCH_CM = 61.0
RULE_UMOL = (75.0, 150.0)
SPS_FROM_UMOL = 200.0
WIDE_HEIGHT_CM, NARROW_HEIGHT_CM, NARROW_DEG = 20.0, 33.0, 75.0
# 75-150 over 0.37 m2 are 28-56 umol/s that arrive, and about three quarters arrive: what "mid
# power" amounts to [umol/s].
MID_POWER_UMOL_S = 60.0
MID_BEAM_DEG, MID_FACE_CM = 110.0, 20.0


@dataclass(frozen=True)
class RuleOfThumb:
    """What common practice would hang, what it would give here, and why it differs.

    The four factors and the rule's own PAR multiply to the mean PAR of the zone [umol m-2 s-1].
    """

    patches: int
    per_patch: int
    layout: Layout
    fits: bool  # whether so many fixtures have room here at all
    zone: int  # the zone with the brightest band
    expected_umol: float
    mean_umol: float
    zone_shares: tuple[float, ...]
    output: float
    footprint: float
    rim: float
    rest: float  # depth, optic, panes, rock, and where the zone lies


def rule_of_thumb(scorer: Scorer, choice: Choice):
    """Return the RuleOfThumb for the fixture and optic of a choice, at full level."""
    question, tank = scorer.question, scorer.question.tank
    zone = max(range(len(question.zones)), key=lambda k: question.zones[k].low_umol)
    columns = max(1, round(tank.length_cm / PATCH_CM))
    rows = max(1, round(tank.width_cm / PATCH_CM))
    per_patch = 2 if question.zones[zone].low_umol >= SPS_FROM_UMOL else 1
    count = columns * rows * per_patch
    height = NARROW_HEIGHT_CM if choice.beam_deg < NARROW_DEG else WIDE_HEIGHT_CM
    alone = Choice(choice.main, choice.beam_deg, count)
    # Where two stand over one patch, the longer side takes them.
    grid = min(grids(count), key=lambda g: abs(g[0] / g[1] - tank.length_cm / tank.width_cm))
    pattern = Pattern(*grid, tank.length_cm / 2, tank.width_cm / 2,
                      PITCHES[-1] * tank.length_cm / grid[0], tank.width_cm / grid[1])  # fmt: skip
    layout = Layout(alone, pattern.places(), snapped(height))
    score = scorer.score(layout)
    expected = per_patch * float(np.mean(RULE_UMOL))
    candidate = question.candidates[choice.main]
    output = candidate.output.ppf_umol_s / MID_POWER_UMOL_S
    footprint = columns * rows * PATCH_CM**2 / (tank.length_cm * tank.width_cm)
    rim = (1.0 - score.spill) / (1.0 - usual_spill())
    mean = score.zone_mean_umol[zone]
    rest = mean / (expected * output * footprint * rim)
    hung = [(x, y, candidate.panel_x_cm, candidate.panel_y_cm) for x, y in layout.places_cm]
    fits = all(
        abs(a[0] - b[0]) >= a[2] - 1e-9 or abs(a[1] - b[1]) >= a[3] - 1e-9
        for k, a in enumerate(hung)
        for b in hung[:k]
    )
    return RuleOfThumb(
        columns * rows, per_patch, layout, fits, zone, expected, mean, score.zone_shares,
        output, footprint, rim, rest,
    )  # fmt: skip


def usual_spill():
    """Return the share of light past the rim in the rule's own case [1]."""
    mid = Fixture(
        PATCH_CM / 2, PATCH_CM / 2, WIDE_HEIGHT_CM, MID_BEAM_DEG, MID_FACE_CM, MID_FACE_CM
    )
    return spill_share(mid, Tank(PATCH_CM, PATCH_CM, PATCH_CM))
