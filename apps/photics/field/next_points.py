"""Where to read next: the spots whose readings would make the map surest.

In a model that is linear around its fit, how much a reading at one place narrows the map at
others does not depend on its value, so it can be said before it is taken. Spots are chosen one
after the other, each the best given those before it (greedy Bayesian A-optimal design; Chaloner &
Verdinelli 1995, doi:10.1214/ss/1177009939).
"""

import numpy as np

from apps.photics.field.mixture import Mixture
from apps.photics.field.open_water import open_grid

# Candidates and map points per axis.
CANDIDATES_PER_AXIS = (8, 5, 5)
MAP_PER_AXIS = (9, 6, 5)
# Share of the say that corals' spots have beside the map as a whole [1], house rule.
SPOTS_SAY = 0.7


def next_points(field, n, *, spots_cm=None, weights=None, candidates=None):
    """Return the n spots to read next, the most telling first, (n, 3) [cm].

    spots_cm (m, 3): corals' spots that matter most, with weights (m,) or alike; candidates
    (c, 3): where a reading can be taken, else a grid clear of glass and rocks. Fewer than n rows
    when there are fewer candidates. Raises ValueError for a forecast, which rests on no readings
    of its own, and for n below 1.
    """
    if n < 1:
        raise ValueError("Ask for one spot or more.")
    models, shares = model_parts(field.model)
    if not all(hasattr(model, "posterior_covariance") for model in models):
        raise ValueError("The light has changed since the readings: read again before adding some.")
    places = (
        open_grid(field.tank, field.rocks, CANDIDATES_PER_AXIS)
        if candidates is None
        else candidates
    )
    places = np.atleast_2d(np.asarray(places, float))
    if len(places) == 0:
        return places
    targets, say = wanted(field, spots_cm, weights)
    covariance, noise = joint_covariance(models, shares, places, targets)
    many = len(places)
    chosen = []
    for _ in range(min(int(n), many)):
        seen = np.maximum(np.diag(covariance)[:many], 0.0) + noise
        gain = (say[:, None] * covariance[many:, :many] ** 2).sum(axis=0) / seen
        gain[chosen] = -1.0
        best = int(np.argmax(gain))
        chosen.append(best)
        column = covariance[:, best]
        covariance = covariance - np.outer(column, column) / seen[best]
    return places[chosen]


def model_parts(model):
    """Return a field's models and their weights."""
    if isinstance(model, Mixture):
        return model.models, model.weights
    return (model,), np.ones(1)


def wanted(field, spots_cm, weights):
    """Return the points whose uncertainty counts, (t, 3), and the say of each, (t,)."""
    grid = open_grid(field.tank, field.rocks, MAP_PER_AXIS)
    if spots_cm is None or len(spots_cm) == 0:
        return grid, np.full(len(grid), 1.0 / len(grid))
    spots = np.atleast_2d(np.asarray(spots_cm, float))
    own = np.ones(len(spots)) if weights is None else np.asarray(weights, float)
    if own.shape != (len(spots),) or (own < 0).any() or own.sum() <= 0:
        raise ValueError("The weights need one value of zero or more per spot, not all zero.")
    say = np.r_[SPOTS_SAY * own / own.sum(), np.full(len(grid), (1.0 - SPOTS_SAY) / len(grid))]
    return np.vstack([spots, grid]), say


def joint_covariance(models, shares, places, targets):
    """Return the covariance of log PAR over places and targets, and a reading's noise there.

    Of a mixture: what each model is unsure of, and how far the models are from each other.
    """
    points = np.vstack([places, targets])
    means, inner, noise = [], 0.0, 0.0
    for model, share in zip(models, shares, strict=True):
        means.append(model.predict(points)[0])
        inner = inner + share * model.posterior_covariance(points)
        noise = noise + share * model.noise_at(places)
    apart = np.array(means) - np.average(means, axis=0, weights=shares)
    return inner + apart.T @ (apart * np.asarray(shares)[:, None]), noise
