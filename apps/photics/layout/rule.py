"""The rule of thumb for a tank's fixtures, and by how much this tank is another case.

Common practice, no published source: one mid-power fixture for each 2 x 2 ft of footprint gives
75 to 150, two give what SPS want; about 8 in above the water with a wide optic, about 13 in with
a narrow one.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from apps.photics.ground.scene import Fixture, Tank
from apps.photics.layout.choice import DUST, Choice, one_kind
from apps.photics.layout.hanging import HungKind, Layout
from apps.photics.layout.light.light_lost import light_lost
from apps.photics.layout.places import (
    PITCHES,
    Pattern,
    grids,
    snapped,
)
from apps.photics.layout.question import Candidate, Question
from apps.photics.layout.score import Scorer

# The rule's own numbers: 2 ft [cm], PAR of one fixture for a patch [umol m-2 s-1], and from which
# PAR a patch takes two. Trade knowledge from memory, no published source.
PATCH_CM = 61.0
RULE_UMOL = (75.0, 150.0)
SPS_FROM_UMOL = 200.0
# Its 8 and 13 in [cm], and below which beam an optic counts as narrow [degrees]: from memory too.
WIDE_HEIGHT_CM, NARROW_HEIGHT_CM, NARROW_DEG = 20.0, 33.0, 75.0
# 75-150 over 0.37 m2 are 28-56 umol/s that arrive, and about three quarters arrive: what "mid
# power" amounts to [umol/s]. Chosen so.
MID_POWER_UMOL_S = 60.0
# The optic [degrees] and the side of the face [cm] of such a fixture: chosen as usual for a panel.
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


def rule_of_thumb(scorer: Scorer, choice: Choice) -> RuleOfThumb:
    """Return the RuleOfThumb for the fixture and optic of a choice, at full level."""
    question, tank = scorer.question, scorer.question.tank
    zone = brightest_zone(question)
    columns = max(1, round(tank.length_cm / PATCH_CM))
    rows = max(1, round(tank.width_cm / PATCH_CM))
    per_patch = 2 if question.zones[zone].low_umol >= SPS_FROM_UMOL else 1
    layout = rule_layout(tank, of_one_kind(choice, columns * rows * per_patch))
    score = scorer.score(layout)
    expected = per_patch * float(np.mean(RULE_UMOL))
    candidate = question.candidates[choice.main]
    output = candidate.output.ppf_umol_s / MID_POWER_UMOL_S
    footprint = columns * rows * PATCH_CM**2 / (tank.length_cm * tank.width_cm)
    rim = (1.0 - score.light_lost) / (1.0 - usual_light_lost())
    mean = score.zone_mean_umol[zone]
    return RuleOfThumb(
        patches=columns * rows,
        per_patch=per_patch,
        layout=layout,
        fits=fits_side_by_side(layout, candidate),
        zone=zone,
        expected_umol=expected,
        mean_umol=mean,
        zone_shares=score.zone_shares,
        output=output,
        footprint=footprint,
        rim=rim,
        rest=mean / (expected * output * footprint * rim),
    )


def brightest_zone(question: Question) -> int:
    """Return the number of the zone with the brightest band."""
    return max(range(len(question.zones)), key=lambda k: question.zones[k].low_umol)


def of_one_kind(choice: Choice, count: int) -> Choice:
    """Return the main kind of a choice alone, so many of it."""
    return one_kind(choice.main, choice.beam_deg, count)


def rule_layout(tank: Tank, choice: Choice) -> Layout:
    """Return a choice of one kind hung evenly over a tank, as high as the rule says."""
    height = NARROW_HEIGHT_CM if choice.beam_deg < NARROW_DEG else WIDE_HEIGHT_CM
    # Where two stand over one patch, the longer side takes them.
    columns, rows = min(
        grids(choice.count), key=lambda g: abs(g[0] / g[1] - tank.length_cm / tank.width_cm)
    )
    pattern = Pattern(
        columns=columns,
        rows=rows,
        middle_x_cm=tank.length_cm / 2,
        middle_y_cm=tank.width_cm / 2,
        pitch_x_cm=PITCHES[-1] * tank.length_cm / columns,
        pitch_y_cm=tank.width_cm / rows,
    )
    return Layout((HungKind(choice.main, choice.beam_deg, pattern.places(), snapped(height)),))


def fits_side_by_side(layout: Layout, candidate: Candidate) -> bool:
    """Return whether none of the fixtures of a layout of one candidate lies on another."""
    return all(
        abs(a[0] - b[0]) >= candidate.panel_x_cm - DUST
        or abs(a[1] - b[1]) >= candidate.panel_y_cm - DUST
        for a, b in combinations(layout.places_cm, 2)
    )


def usual_light_lost() -> float:
    """Return the share of light past the rim in the rule's own case [1]."""
    mid = Fixture(
        PATCH_CM / 2, PATCH_CM / 2, WIDE_HEIGHT_CM, MID_BEAM_DEG, MID_FACE_CM, MID_FACE_CM
    )
    return light_lost(mid, Tank(PATCH_CM, PATCH_CM, PATCH_CM))
