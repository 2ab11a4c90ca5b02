"""How hard the shadows of a layout are, and mixed rigs whose fill burns for softness."""

from dataclasses import replace
from functools import lru_cache

import numpy as np

from apps.photics.layout.branch_shadow import branch_shadow
from apps.photics.layout.planned_light import PlannedRig
from apps.photics.layout.score import COARSE_LEVELS, SPILL, Scorer
from apps.photics.rig.rig import Rig

# Points a zone's shadows are judged at: few, as they change slowly from one to the next.
SHADOW_POINTS = 6
# What a shadow costs beside the share in band when the fill's level is chosen for softness: a
# tenth less shadow is worth four hundredths of the points. House rule.
SHADOW = 0.40
# Levels the fill is tried at, as places among the coarse levels: about 18, 28, 42, 65 and 100 %.
FILL_TRIED = (6, 8, 10, 12, 14)
# Less shadow than this apart are alike [1].
ALIKE = 0.02


@lru_cache(maxsize=512)
def hardness(question, layout):
    """Return the share of the light that one branch takes, over all zones by their weights [1]."""
    pairs = [pair for pair in zip(*layout.fixtures(question), strict=True) if pair[0].level > 0]
    fixtures, outputs = zip(*pairs, strict=True)
    planned = PlannedRig(Rig(question.tank, fixtures, question.rocks), outputs, question.law)
    points = [few(zone.points(question.rocks)) for zone in question.zones]
    shadow = branch_shadow(planned.rig, planned.theta, np.concatenate(points))
    ends = np.cumsum([len(part) for part in points])[:-1]
    weight = np.array([zone.weight for zone in question.zones], float)
    return float(weight @ [part.mean() for part in np.split(shadow, ends)] / weight.sum())


def few(points):
    """Return SHADOW_POINTS of the points, or all if fewer, spread over them."""
    at = np.linspace(0, len(points) - 1, min(SHADOW_POINTS, len(points)))
    return points[np.unique(at.round().astype(int))]


def softened(scorer: Scorer, layout):
    """Return a mixed layout with levels that weigh shadows too, and its objective.

    The places stay. None where it has no fill, or where none of its levels softens the shadows.
    """
    if layout.choice.fill is None:
        return None
    main, fill, spill = scorer.both(layout)
    every, tried = np.arange(len(COARSE_LEVELS)), []
    for j in FILL_TRIED:
        value, k, _ = scorer.best_pair(layout, main, fill, every, np.array([j]))
        one = replace(layout, level=float(COARSE_LEVELS[k]), fill_level=float(COARSE_LEVELS[j]))
        tried.append((one, value - SPILL * spill))
    best = max(tried, key=lambda pair: pair[1] - SHADOW * hardness(scorer.question, pair[0]))
    before = hardness(scorer.question, layout)
    return best if hardness(scorer.question, best[0]) < before - ALIKE else None
