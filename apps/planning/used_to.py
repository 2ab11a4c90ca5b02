"""The light each coral of a tank is used to: the running mean of the light it really had."""

import datetime as dt

from apps.common.time_axis import midnight
from apps.photics.acclimation import settled_light
from apps.photics.exposure import TIME_CONSTANT_DAYS

# What lies longer ago than so many time constants is forgotten to a hundredth.
LOOK_BACK = dt.timedelta(days=5 * TIME_CONSTANT_DAYS)


def used_to_par(corals, light, now, zone):
    """Return {coral pk: PAR it is used to [umol m-2 s-1]} for corals whose light is known.

    `corals` with their spots read; one evaluation of the map a moment at which anything changed.
    A day of other hours counts as the PAR that would give its daily light in today's hours.
    """
    start = now - LOOK_BACK
    moves = {midnight(spot.since, zone) for coral in corals for spot in coral.spots.all()}
    moments = sorted(
        {start, *(m for m in moves if start < m < now), *light.steps_between(start, now)}
    )
    had = {coral.pk: [] for coral in corals}
    for moment in moments:
        day = moment.astimezone(zone).date()
        placed = [(coral, spot) for coral in corals if (spot := coral.spot_on(day))]
        found = light.at([(s.x_cm, s.y_cm, s.depth_cm) for _, s in placed], moment)
        for (coral, _), here in zip(placed, found, strict=True):
            if here is not None:
                had[coral.pk].append((moment, here))
    return {pk: mean_par(rows, now) for pk, rows in had.items() if rows}


def mean_par(rows, now):
    """Return the running mean of one coral's light at the end of (moment, SpotLight) rows."""
    day = [(moment - rows[0][0]).total_seconds() / 86400.0 for moment, _ in rows]
    end = (now - rows[0][0]).total_seconds() / 86400.0
    latest = rows[-1][1]
    if latest.dli_mol and all(light.dli_mol is not None for _, light in rows):
        used_mol = settled_light(day, [light.dli_mol for _, light in rows], until_day=end)
        return used_mol * latest.par_umol / latest.dli_mol
    return settled_light(day, [light.par_umol for _, light in rows], until_day=end)
