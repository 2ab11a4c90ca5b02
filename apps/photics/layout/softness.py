"""How hard the shadows of a layout are, and mixed rigs whose fill burns for softness."""

from functools import lru_cache

import numpy as np

from apps.photics.ground.arrays import FloatArray
from apps.photics.layout.choice import fills_of
from apps.photics.layout.hanging import Layout
from apps.photics.layout.light.branch_shadow import branch_shadow
from apps.photics.layout.planned_light import PlannedRig
from apps.photics.layout.question import Question
from apps.photics.layout.score import LIGHT_LOST, Scorer
from apps.photics.rig.rig import Rig

# Points a zone's shadows are judged at: chosen few, as shadows change slowly between them.
SHADOW_POINTS = 6
# What a shadow costs beside the share in band when the fill's level is chosen for softness: a
# tenth less shadow is worth six hundredths of the points [1]. Chosen, so that softness does not
# cost the zones more than a keeper would give.
SHADOW = 0.60
# Levels the fill is tried at [1]: chosen, because a shadow's depth changes slowly with them.
FILL_TRIED = (0.18, 0.28, 0.42, 0.65, 1.0)
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
    fills = fills_of(scorer.question, layout.choice)
    if not fills:
        return None
    light, lost = scorer.light_by_kind(layout)
    counts = np.array([len(kind.places_cm) for kind in layout.hung], float)
    others, tried = [k for k in range(len(light)) if k not in fills], []
    for level in FILL_TRIED:
        levels = np.array(layout.levels)
        levels[list(fills)] = level
        for k in others:
            levels, value = scorer.best_of_one(light, counts, levels, k)
        tried.append((layout.at_levels(levels), value - LIGHT_LOST * lost))
    best = max(tried, key=lambda pair: pair[1] - SHADOW * hardness(scorer.question, pair[0]))
    before = hardness(scorer.question, layout)
    return best if hardness(scorer.question, best[0]) < before - ALIKE else None
