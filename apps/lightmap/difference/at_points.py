"""How one light differs from another at points of the water, and how surely."""

import datetime as dt

import numpy as np

from apps.drawing.level import PointLight
from apps.lightmap.difference.dated_light import ComparedLight
from apps.lightmap.difference.light_effect import LightEffect
from apps.lightmap.logged_factors import guesses
from apps.photics.field.field_change import FieldChange, field_change
from apps.photics.ground.arrays import ArrayLike


def change_at_points(
    first: ComparedLight, second: ComparedLight, points_cm: ArrayLike
) -> FieldChange:
    """Return the FieldChange from one light to another at points (m, 3) [cm].

    Seen by one and the same map, its errors cancel but for what the log leaves open between the
    two moments; read with one meter, its scale does.
    """
    one, other = first.seen_by, second.seen_by
    if one and other and one.serving is other.serving and one.light is other.light:
        return by_one_map(one.moment, second, points_cm)
    lights: list[PointLight] = [first.light, second.light]
    if first.scale is not None and first.scale == second.scale:
        lights = [first.without_scale(), second.without_scale()]
    points = np.asarray(points_cm, float)
    return field_change(lights[0].at(points), lights[1].at(points))


def by_one_map(since: dt.datetime, second: ComparedLight, points_cm: ArrayLike) -> FieldChange:
    """Return the FieldChange of one map from a moment to that of the second light."""
    seen = second.seen_by
    assert seen is not None
    light, serving = seen.light, seen.serving
    followed = light.followed(serving, points_cm)
    by_rig = followed.ratio(
        light.transition(serving, since), light.transition(serving, seen.moment)
    )
    effect = LightEffect(
        light=light,
        serving=serving,
        happened_at=seen.moment,
        factor=light.history.factor_between(since, seen.moment),
        guesses=guesses(light.history.vague_between(since, seen.moment)),
    )
    return effect.with_factor(by_rig)
