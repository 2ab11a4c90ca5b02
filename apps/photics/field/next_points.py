"""Where to read next: the spots whose readings would make the map surest.

In a model that is linear around its fit, how much a reading at one place narrows the map at
others does not depend on its value, so it is known before it is taken. Spots are chosen one
after the other, each the best given those before it (greedy Bayesian A-optimal design; Chaloner &
Verdinelli 1995, doi:10.1214/ss/1177009939), or nearly the best and nearer to a coral in doubt.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from apps.photics.field.light_field import LightField
from apps.photics.field.light_model import LightModel, Mixture, SharpenedModel
from apps.photics.field.rescale import Dimmed, Rescaled
from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray, RealArray
from apps.photics.ground.open_water import open_grid, probe_places

# Candidates and map points per axis: our own choice.
CANDIDATES_PER_AXIS = (8, 5, 5)
MAP_PER_AXIS = (9, 6, 5)
# Part of all importance that corals' spots have, beside the map as a whole [1]: our own choice.
SPOTS_PROPORTION = 0.7
# Two spots closer than this are one to a keeper [cm]: chosen, because a hand with a probe is no
# surer, and one slip would stand in both.
APART_CM = 10.0
# Of places that gain this part of the most, the one nearest to the corals that matter most is read
# [1]: our own choice, because a tenth is worth less than a reading of the coral's own light.
NEARLY = 0.9


def next_points(
    field: LightField,
    n: int,
    *,
    spots_cm: ArrayLike | None = None,
    weights: ArrayLike | None = None,
    candidates: ArrayLike | None = None,
    scale_deviation: float = 0.0,
) -> FloatArray:
    """Return the n spots to read next, first what makes the map surest, (n, 3) [cm].

    spots_cm (m, 3): corals' spots that matter most, with weights (m,) [1] or alike; candidates
    (c, 3): where a reading can be taken [cm], else what a probe reaches, some beside the spots;
    scale_deviation: how far all of the light may be off alike, beside what the field knows of
    [log]. Fewer than n rows when there are fewer candidates. Raises ValueError for n below 1.
    """
    if n < 1:
        raise ValueError("Ask for one spot or more.")
    models, weighed = model_parts(field.model)
    spots = (
        np.empty((0, 3)) if spots_cm is None else np.reshape(np.asarray(spots_cm, float), (-1, 3))
    )
    places: FloatArray = (
        reachable(field, spots)
        if candidates is None
        else np.atleast_2d(np.asarray(candidates, float))
    )
    if len(places) == 0:
        return places
    targets, importance = wanted(field, spots_cm, weights)
    away_cm = distance_cm(places, spots, importance[: len(spots)])
    covariance, noise = joint_covariance(models, weighed, places, targets)
    covariance = covariance + scale_deviation**2
    many = len(places)
    chosen: list[int] = []
    for _ in range(min(int(n), many)):
        seen = np.maximum(np.diag(covariance)[:many], 0.0) + noise
        gain = (importance[:, None] * covariance[many:, :many] ** 2).sum(axis=0) / seen
        # Farther places first; those close by only where nothing else is left.
        gain[close_to(places, chosen)] -= gain.max() + 1.0
        gain[chosen] = -np.inf
        nearly = np.flatnonzero(gain >= min(NEARLY * gain.max(), gain.max()))
        best = int(nearly[np.lexsort((-gain[nearly], away_cm[nearly]))[0]])
        chosen.append(best)
        column = covariance[:, best]
        covariance = covariance - np.outer(column, column) / seen[best]
    return places[chosen]


def reachable(field: LightField, spots_cm: FloatArray) -> FloatArray:
    """Return the places a probe reaches, some beside spots (m, 3), (c, 3) [cm].

    In a tank so full that none is well clear of glass and rock: those in its open water.
    """
    places = probe_places(field.tank, field.rocks, CANDIDATES_PER_AXIS, spots_cm)
    return places if len(places) else open_grid(field.tank, field.rocks, CANDIDATES_PER_AXIS)


def distance_cm(places_cm: FloatArray, spots_cm: FloatArray, weights: FloatArray) -> FloatArray:
    """Return how far places (c, 3) lie from the nearest of the spots that weigh most, (c,) [cm].

    spots_cm (m, 3) with weights (m,) [1]; zero for all where there is no spot.
    """
    if not len(spots_cm):
        return np.zeros(len(places_cm))
    heaviest = spots_cm[weights >= weights.max() * (1.0 - 1e-9)]
    apart: FloatArray = np.linalg.norm(places_cm[:, None] - heaviest[None], axis=2).min(axis=1)
    return apart


def close_to(places_cm: FloatArray, chosen: Sequence[int]) -> BoolArray:
    """Return whether each of `places_cm` (c, 3) lies within APART_CM of a chosen one, (c,)."""
    apart = np.linalg.norm(places_cm[:, None] - places_cm[list(chosen)][None], axis=2)
    close: BoolArray = (apart < APART_CM).any(axis=1)
    return close


@dataclass(frozen=True)
class ChangedPart:
    """A fitted model as a light change left it; a reading tells of both."""

    changed: Rescaled | Dimmed
    model: SharpenedModel

    def predict(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,) [log]."""
        return self.changed.predict(points_cm)

    def posterior_covariance(self, points_cm: FloatArray) -> FloatArray:
        """Return the covariance of log PAR between points (m, 3), (m, m) [log squared]."""
        deviation = self.changed.change_at(points_cm)[1]
        return self.model.posterior_covariance(points_cm) + np.outer(deviation, deviation)

    def noise_at(self, points_cm: FloatArray) -> FloatArray:
        """Return the noise variance of a reading of log PAR at points (m, 3), (m,) [1]."""
        return self.model.noise_at(points_cm)


def model_parts(model: LightModel) -> tuple[tuple[SharpenedModel, ...], FloatArray]:
    """Return a field's models, as a light change left them, and their weights, (k,) [1]."""
    if isinstance(model, Rescaled | Dimmed):
        parts, weights = model_parts(model.model)
        return tuple(ChangedPart(replace(model, model=one), one) for one in parts), weights
    models: tuple[LightModel, ...] = (model,)
    weights = np.ones(1)
    if isinstance(model, Mixture):
        models, weights = model.models, model.weights
    sharpened = tuple(one for one in models if isinstance(one, SharpenedModel))
    if len(sharpened) < len(models):
        raise TypeError(f"No reading makes a {type(model).__name__} surer.")
    return sharpened, weights


def wanted(
    field: LightField, spots_cm: ArrayLike | None, weights: ArrayLike | None
) -> tuple[FloatArray, FloatArray]:
    """Return the points whose uncertainty counts, (t, 3) [cm], and their importance, (t,) [1].

    spots_cm (m, 3) and weights (m,) [1] as `next_points` takes them.
    """
    grid = open_grid(field.tank, field.rocks, MAP_PER_AXIS)
    if spots_cm is None or np.size(spots_cm) == 0:
        return grid, np.full(len(grid), 1.0 / len(grid))
    spots = np.atleast_2d(np.asarray(spots_cm, float))
    own = np.ones(len(spots)) if weights is None else np.asarray(weights, float)
    if own.shape != (len(spots),) or (own < 0).any() or own.sum() <= 0:
        raise ValueError("The weights need one value of zero or more per spot, not all zero.")
    of_spots, of_map = SPOTS_PROPORTION * own / own.sum(), (1.0 - SPOTS_PROPORTION) / len(grid)
    importance = np.concatenate([of_spots, np.full(len(grid), of_map)])
    return np.vstack([spots, grid]), importance


def joint_covariance(
    models: Sequence[SharpenedModel],
    weights: FloatArray,
    places_cm: FloatArray,
    targets_cm: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return the covariance of log PAR over places and targets, and a reading's noise there.

    models with their weights (k,) [1]; places_cm (p, 3) and targets_cm (t, 3); returned are
    (p + t, p + t) [log squared] and (p,) [1]. Of a mixture: what each model is unsure of, and how
    far the models are from each other.
    """
    points = np.vstack([places_cm, targets_cm])
    means = []
    inner, noise = np.zeros((len(points), len(points))), np.zeros(len(places_cm))
    for model, weight in zip(models, weights, strict=True):
        means.append(model.predict(points)[0])
        inner = inner + weight * model.posterior_covariance(points)
        noise = noise + weight * model.noise_at(places_cm)
    apart = np.array(means) - np.average(means, axis=0, weights=weights)
    return inner + apart.T @ (apart * np.asarray(weights)[:, None]), noise
