"""The light each coral of a tank had, at a moment and over the days before it."""

import datetime as dt
import itertools
import math
from bisect import bisect_right
from dataclasses import dataclass, field, replace
from functools import cached_property

from apps.corals.models import Band
from apps.surveys.lightmap import TankLight

DAY = dt.timedelta(days=1)
# Earlier and later than any moment of a tank.
EVER = tuple(m.replace(tzinfo=dt.UTC) for m in (dt.datetime.min, dt.datetime.max))


@dataclass(frozen=True)
class MeanLight:
    """Mean light over a stretch of days, in the part of it for which it is known.

    The interval is the mean of the intervals: one map serves most of the stretch, so that its
    errors do not average out.
    """

    par_umol: float
    low_umol: float
    high_umol: float
    dli_mol: float | None
    days: float
    extrapolated: bool
    measured_later: bool


@dataclass
class LightBook:
    """A tank's corals and light, asked for moments; no stretch of steady light is worked out twice.

    From one of its `turns` to the next no coral's light changes.
    """

    tank: object
    corals: list
    light: TankLight
    _lights: dict = field(default_factory=dict)
    _means: dict = field(default_factory=dict)
    _eves: dict = field(default_factory=dict)

    @property
    def has_map(self):
        return self.light.has_map

    def midnight(self, day):
        """Return the moment a date begins at the tank."""
        return dt.datetime.combine(day, dt.time.min, tzinfo=self.tank.zone)

    def eve(self, day):
        """Return the last moment before a date: what is done on the day is not before it.

        A coral is often moved, or a lamp dimmed, on the very day the colour was noticed.
        """
        if day not in self._eves:
            self._eves[day] = self.midnight(day) - dt.timedelta(microseconds=1)
        return self._eves[day]

    def date(self, moment):
        return moment.astimezone(self.tank.zone).date()

    def spot_at(self, coral, moment):
        """Return where a coral sat at a moment, or None when it was not there or not placed."""
        day = self.date(moment)
        if day < coral.added_on or (coral.gone_on and day > coral.gone_on):
            return None
        return coral.spot_on(day)

    def lights_at(self, moment):
        """Return {coral key: SpotLight} of the corals whose light is known then."""
        return self.lights_in(bisect_right(self.turns, moment), moment)

    def lights_in(self, stretch, moment, survey_pk=None):
        """Return {coral key: SpotLight} in a stretch, a moment of which is given.

        With `survey_pk` all light is seen through that survey's map, however old.
        """
        if (stretch, survey_pk) not in self._lights:
            spots = [(coral.pk, self.spot_at(coral, moment)) for coral in self.corals]
            spots = [(pk, spot) for pk, spot in spots if spot]
            points = [(spot.x_cm, spot.y_cm, spot.depth_cm) for _, spot in spots]
            found = self.light_by(survey_pk).at(points, moment)
            self._lights[stretch, survey_pk] = {
                pk: light for (pk, _), light in zip(spots, found, strict=True) if light
            }
        return self._lights[stretch, survey_pk]

    def light_by(self, survey_pk):
        """Return the tank's light as one survey tells it, or as each day's own map does."""
        if survey_pk is None:
            return self.light
        return replace(
            self.light, maps=tuple(m for m in self.light.maps if m.survey_pk == survey_pk)
        )

    def means_before(self, end, days):
        """Return {coral key: MeanLight} over the `days` before a moment [d]."""
        if (end, days) in self._means:
            return self._means[end, days]
        start = end - days * DAY
        turns = [start, *self.turns_between(start, end), end]
        parts = {}
        for begin, stop in itertools.pairwise(turns):
            for pk, light in self.lights_at(begin).items():
                parts.setdefault(pk, []).append(((stop - begin) / DAY, light))
        found = {pk: mean_light(stretches) for pk, stretches in parts.items()}
        self._means[end, days] = found
        return found

    @cached_property
    def turns(self):
        """The moments at which any coral's light may change, ascending."""
        turns = set(self.light.steps_between(*EVER))
        for coral in self.corals:
            days = [spot.since for spot in coral.spots.all()] + [coral.added_on]
            if coral.gone_on:
                days.append(coral.gone_on + DAY)
            turns |= {self.midnight(day) for day in days}
        return sorted(turns)

    def turns_between(self, start, end):
        """Return the turns in (start, end), ascending."""
        return [turn for turn in self.turns if start < turn < end]


def mean_light(stretches):
    """Return the MeanLight of (days, SpotLight) stretches, each weighed by its days."""
    days = sum(length for length, _ in stretches)

    def mean(name):
        return sum(length * getattr(light, name) for length, light in stretches) / days

    told = all(light.dli_mol is not None for _, light in stretches)
    return MeanLight(
        par_umol=mean("par_umol"),
        low_umol=mean("low_umol"),
        high_umol=mean("high_umol"),
        dli_mol=mean("dli_mol") if told else None,
        days=days,
        extrapolated=any(light.extrapolated for _, light in stretches),
        measured_later=any(light.measured_later for _, light in stretches),
    )


@dataclass(frozen=True)
class BandPlace:
    """Where a light lies in a coral's band."""

    band: Band
    ratio: float  # light for 1 at the band's middle [1]
    state: str  # "below", "within" or "above"
    sure: bool  # the whole interval lies there


def band_middle_umol(band):
    """Return the middle of a band as light is felt, by ratios: the geometric mean of its ends."""
    return math.sqrt(band.low_umol * band.high_umol)


def band_place(light, band):
    """Return the BandPlace of a MeanLight or SpotLight: any PAR with an interval."""

    def side(par_umol):
        if par_umol < band.low_umol:
            return "below"
        return "above" if par_umol > band.high_umol else "within"

    state = side(light.par_umol)
    return BandPlace(
        band=band,
        ratio=light.par_umol / band_middle_umol(band),
        state=state,
        sure=side(light.low_umol) == side(light.high_umol) == state,
    )


@dataclass(frozen=True)
class LightGap:
    """How light differs between two moments at a coral."""

    par_ratio: float
    par_more_umol: float
    dli_ratio: float | None
    across_surveys: bool  # part of the difference may be between two surveys, not in the light


def light_gap(old, new):
    """Return what one SpotLight is for 1 of another, in PAR and daily light [1], or None."""
    # In the dark there is nothing to compare with.
    if old is None or new is None or old.par_umol == 0:
        return None
    daily = None
    if old.dli_mol and new.dli_mol is not None:
        daily = new.dli_mol / old.dli_mol
    return LightGap(
        par_ratio=new.par_umol / old.par_umol,
        par_more_umol=new.par_umol - old.par_umol,
        dli_ratio=daily,
        across_surveys=old.survey_pk != new.survey_pk,
    )
