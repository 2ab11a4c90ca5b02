"""The light each coral of a tank is used to: the running mean of the light it really had."""

import datetime as dt
from collections.abc import Sequence

from apps.corals.models import Coral, Spot
from apps.drawing.time_axis import midnight
from apps.lightmap.lightmap import TankLight
from apps.lightmap.spot_light import SpotLight
from apps.photics.causes.exposure import TIME_CONSTANT_DAYS
from apps.photics.causes.light_before import light_before
from apps.planning.what_if.live_light import LiveLight

# What lies longer ago than so many time constants is forgotten to a hundredth [d]: exp(-5).
LOOK_BACK = dt.timedelta(days=5 * TIME_CONSTANT_DAYS)


def acclimated_par(
    corals: Sequence[Coral], light: TankLight, now: dt.datetime, zone: dt.tzinfo
) -> dict[int, float]:
    """Return the acclimated light of corals [umol m-2 s-1], by key, where it is known.

    `corals` with their spots read; one evaluation of the map a moment at which anything changed.
    A day of other hours counts as the PAR that would give its daily light in today's hours.
    """
    start = now - LOOK_BACK
    moves = {midnight(spot.since, zone) for coral in corals for spot in coral.spots.all()}
    moments = sorted(
        {start, *(m for m in moves if start < m < now), *light.steps_between(start, now)}
    )
    had: dict[int, list[tuple[dt.datetime, SpotLight]]] = {coral.pk: [] for coral in corals}
    for moment in moments:
        day = moment.astimezone(zone).date()
        placed = [(coral, spot) for coral in corals if (spot := coral.spot_on(day))]
        lights = light.at([(s.x_cm, s.y_cm, s.depth_cm) for _, s in placed], moment)
        for (coral, _), here in zip(placed, lights, strict=True):
            if here is not None:
                had[coral.pk].append((moment, here))
    means = {pk: mean_par(rows, now) for pk, rows in had.items() if rows}
    return {pk: mean for pk, mean in means.items() if mean is not None}


def mean_par(rows: Sequence[tuple[dt.datetime, SpotLight]], now: dt.datetime) -> float | None:
    """Return the running mean of one coral's light at the end of (moment, SpotLight) rows.

    None for a coral that sat in the dark at any time: a mean of doublings has no place for it.
    """
    latest = rows[-1][1]
    days = [here.dli_mol for _, here in rows if here.dli_mol]
    by_day = len(days) == len(rows)
    light = days if by_day else [here.par_umol for _, here in rows]
    if min(light) <= 0:
        return None
    began = [(now - moment).total_seconds() / 86400.0 for moment, _ in rows]
    roots = [[0.0]] * len(rows)
    acclimated = light_before(began, light, roots, [0.0], window_days=0.0).acclimated
    return acclimated * latest.par_umol / days[-1] if by_day else acclimated


def what_lacks(live: LiveLight, spots: Sequence[Spot]) -> str:
    """Return why no light is known at Spots: "spot", "map", "rock" or "light"."""
    if not spots:
        return "spot"
    if live.serving is None:
        return "map"
    inside = live.light.in_rock([(s.x_cm, s.y_cm, s.depth_cm) for s in spots])
    return "rock" if all(inside) else "light"
