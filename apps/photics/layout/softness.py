"""How hard the shadows of a layout are, and mixed rigs whose fill burns for softness."""

from dataclasses import replace
from functools import lru_cache

import numpy as np

from apps.photics.ground.arrays import FloatArray
from apps.photics.layout.branch_shadow import branch_shadow
from apps.photics.layout.planned_light import PlannedRig
from apps.photics.layout.question import Question
from apps.photics.layout.score import COARSE_LEVELS, LIGHT_LOST, Layout, Scorer
from apps.photics.rig.rig import Rig

# Points a zone's shadows are judged at: chosen few, as shadows change slowly between them.
SHADOW_POINTS = 6
# What a shadow costs beside the share in band when the fill's level is chosen for softness: a
# tenth less shadow is worth four hundredths of the points [1]. Chosen, so that softness does not
# cost the zones more than a keeper would give.
SHADOW = 0.40
# Levels the fill is tried at, as places among the coarse levels: about 18, 28, 42, 65 and 100 %.
# Chosen, because a shadow's depth changes slowly with them.
FILL_TRIED = (6, 8, 10, 12, 14)
# Less shadow than this apart are alike [1]: chosen, because no eye sees it.
ALIKE = 0.02


@lru_cache(maxsize=512)
def hardness(question: Question, layout: Layout) -> float:
    """Return the share of the light that one branch takes, over all zones by their weights [1]."""
    pairs = [pair for pair in zip(*layout.fixtures(question), strict=True) if pair[0].level > 0]
    fixtures, outputs = zip(*pairs, strict=True)
    planned = PlannedRig(Rig(question.tank, fixtures, question.rocks), outputs, question.law)
    points = [few(zone.points(question.rocks, tank=question.tank)) for zone in question.zones]
    shadow = branch_shadow(planned.rig, planned.theta, np.concatenate(points))
    ends = np.cumsum([len(part) for part in points])[:-1]
    weight = np.array([zone.weight for zone in question.zones], float)
    return float(weight @ [part.mean() for part in np.split(shadow, ends)] / weight.sum())


def few(points: FloatArray) -> FloatArray:
    """Return SHADOW_POINTS of the points (n, 3), or all if fewer, spread over them, in one unit."""
    at = np.linspace(0, len(points) - 1, min(SHADOW_POINTS, len(points)))
    spread: FloatArray = points[np.unique(at.round().astype(int))]
    return spread


def softened(scorer: Scorer, layout: Layout) -> tuple[Layout, float] | None:
    """Return a mixed layout with levels that weigh shadows too, and its objective [1].

    How they weigh is our own choice. The places stay. None where it has no fill, or where none of
    its levels softens the shadows.
    """
    main, fill, lost = scorer.both(layout)
    if fill is None:
        return None
    every, tried = np.arange(len(COARSE_LEVELS)), []
    for j in FILL_TRIED:
        value, k, _ = scorer.best_pair(layout, main, fill, every, np.array([j]))
        one = replace(layout, level=float(COARSE_LEVELS[k]), fill_level=float(COARSE_LEVELS[j]))
        tried.append((one, value - LIGHT_LOST * lost))
    best = max(tried, key=lambda pair: pair[1] - SHADOW * hardness(scorer.question, pair[0]))
    before = hardness(scorer.question, layout)
    return best if hardness(scorer.question, best[0]) < before - ALIKE else None
