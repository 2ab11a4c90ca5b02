"""The light each coral of a tank had, at a moment and over the days before it."""

import datetime as dt
import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from math import nan

import numpy as np

from apps.corals.models import Band, Coral, Spot
from apps.lightmap.lightmap import TankLight
from apps.lightmap.spot_light import LightColumns, SpotLight
from apps.photics.ground.arrays import FloatArray, IntArray
from apps.photics.ground.dose import MOL_PER_UMOL_HOUR
from apps.tanks.models import Tank

DAY = dt.timedelta(days=1)
# Stretches of steady light that are weighed, the newest: each takes a rig of 40 fixtures some
# milliseconds, and a page may take seconds. A change a day fills them in a year.
STRETCHES_MAX = 400
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

    @property
    def full_hours(self) -> float | None:
        """Hours of full light that make its daily light of its PAR [h]; None where unknown."""
        if not self.dli_mol or not self.par_umol:
            return None
        return self.dli_mol / (self.par_umol * MOL_PER_UMOL_HOUR)


@dataclass(frozen=True)
class Part:
    """A part of a tank's time: from a date on, until before another; None for no bound."""

    since: dt.date | None
    until: dt.date | None

    def holds(self, day: dt.date) -> bool:
        """Tell whether a date lies in it."""
        return (self.since is None or day >= self.since) and (
            self.until is None or day < self.until
        )


@dataclass
class LightBook:
    """A tank's corals and light at moments; no stretch of steady light is worked out twice.

    From one of its `turns` to the next no coral's light changes. A stretch is the number of turns
    before it; its light is that of all spots any coral ever had, so that the rig's light at them
    is worked out once for all corals and all moments.
    """

    tank: Tank
    corals: list[Coral]
    light: TankLight
    # Takes light by stated outputs where no survey carries a map. It can show what to look at.
    takes_stated: bool = False
    _lights: dict[tuple[int, int | None], LightColumns | None] = field(default_factory=dict)
    _means: dict[tuple[dt.datetime, int], dict[int, MeanLight]] = field(default_factory=dict)
    _eves: dict[dt.date, dt.datetime] = field(default_factory=dict)

    def __post_init__(self) -> None:
        # What nobody measured is no evidence of what light did.
        if not self.takes_stated:
            self.light = replace(self.light, unread=None)

    @property
    def has_map(self) -> bool:
        return self.light.has_map

    def midnight(self, day: dt.date) -> dt.datetime:
        """Return the moment a date begins at the tank."""
        return dt.datetime.combine(day, dt.time.min, tzinfo=self.tank.zone)

    def eve(self, day: dt.date) -> dt.datetime:
        """Return the last moment before a date: what is done on the day is not before it.

        A coral is often moved, or a lamp dimmed, on the very day the colour was noticed.
        """
        if day not in self._eves:
            self._eves[day] = self.midnight(day) - dt.timedelta(microseconds=1)
        return self._eves[day]

    def date(self, moment: dt.datetime) -> dt.date:
        return moment.astimezone(self.tank.zone).date()

    @cached_property
    def coral_by_pk(self) -> dict[int, Coral]:
        return {coral.pk: coral for coral in self.corals}

    @cached_property
    def spots(self) -> list[Spot]:
        """All spots of all corals, each once."""
        return [spot for coral in self.corals for spot in coral.spots.all()]

    @cached_property
    def _points(self) -> FloatArray:
        places = [(spot.x_cm, spot.y_cm, spot.depth_cm) for spot in self.spots]
        return np.array(places, float).reshape(-1, 3)

    @cached_property
    def _place(self) -> dict[int, int]:
        """The number of each spot in `spots`, by its key."""
        return {spot.pk: k for k, spot in enumerate(self.spots)}

    @cached_property
    def _column(self) -> dict[int, int]:
        """The number of each coral, by its key."""
        return {coral.pk: k for k, coral in enumerate(self.corals)}

    @cached_property
    def _seats(self) -> IntArray:
        """The number of the spot each coral sits on in each stretch; -1 where it has none."""
        seats = np.full((len(self.turns) + 1, len(self.corals)), -1)
        for k, coral in enumerate(self.corals):
            for spot in sorted(coral.spots.all(), key=lambda spot: (spot.since, spot.pk)):
                began = self.stretch_from(max(spot.since, coral.added_on))
                seats[began:, k] = self._place[spot.pk]
            if coral.gone_on:
                seats[self.stretch_from(coral.gone_on + DAY) :, k] = -1
        return seats

    def stretch_at(self, moment: dt.datetime) -> int:
        """Return the stretch that a moment lies in."""
        return bisect_right(self.turns, moment)

    def stretch_from(self, day: dt.date) -> int:
        """Return the stretch that begins with a date on which a coral comes, moves or goes."""
        return self.stretch_at(self.midnight(day))

    def seat_of(self, coral: Coral, stretch: int) -> int:
        """Return the number of the spot a coral sits on in a stretch; -1 for none.

        A coral that was deleted is none of the book's, and sits nowhere.
        """
        column = self._column.get(coral.pk)
        return -1 if column is None else self._seats[stretch, column]

    def spot_in(self, coral: Coral, stretch: int) -> Spot | None:
        """Return where a coral sits in a stretch, or None."""
        seat = self.seat_of(coral, stretch)
        return self.spots[seat] if seat >= 0 else None

    def light_at(self, coral: Coral, moment: dt.datetime) -> SpotLight | None:
        """Return the SpotLight of a coral at a moment, None where it is not known."""
        return self.light_in(coral, self.stretch_at(moment))

    def light_in(
        self, coral: Coral, stretch: int, survey_pk: int | None = None
    ) -> SpotLight | None:
        """Return the SpotLight of a coral in a stretch, None where it is not known."""
        seat = self.seat_of(coral, stretch)
        light = self.of_spots(stretch, survey_pk) if seat >= 0 else None
        return light.row(seat) if light else None

    def at_spot(self, spot: Spot, stretch: int) -> SpotLight | None:
        """Return the SpotLight of a spot in a stretch, whether a coral sat there or not."""
        light = self.of_spots(stretch)
        return light.row(self._place[spot.pk]) if light else None

    def of_spots(self, stretch: int, survey_pk: int | None = None) -> LightColumns | None:
        """Return the LightColumns of all spots in a stretch, None where there is no map.

        With `survey_pk` all light is seen through that survey's map, however old.
        """
        begins = self.turns[stretch - 1] if stretch else self._before_all
        if survey_pk is None:
            serving = self.light.map_for(begins)
            survey_pk = serving.survey_pk if serving else None
        if (stretch, survey_pk) not in self._lights:
            result = self.light_by(survey_pk).columns_at(self._points, begins)
            self._lights[stretch, survey_pk] = result
        return self._lights[stretch, survey_pk]

    @property
    def _before_all(self) -> dt.datetime:
        return self.turns[0] - DAY if self.turns else self.eve(self.tank.today())

    def light_by(self, survey_pk: int | None) -> TankLight:
        """Return the tank's light by one survey."""
        return replace(
            self.light, maps=tuple(m for m in self.light.maps if m.survey_pk == survey_pk)
        )

    def means_before(self, end: dt.datetime, days: int) -> dict[int, MeanLight]:
        """Return {coral key: MeanLight} over the `days` before a moment [d]."""
        if (end, days) not in self._means:
            start = end - days * DAY
            turns = [start, *self.turns_between(start, end), end]
            stretches = [
                ((stop - begin) / DAY, self.stretch_at(begin)) for begin, stop in pairwise(turns)
            ]
            self._means[end, days] = self.means_over(stretches)
        return self._means[end, days]

    def means_over(self, stretches: Iterable[tuple[float, int]]) -> dict[int, MeanLight]:
        """Return {coral key: MeanLight} over (days, stretch) pairs; as columns for all corals."""
        many = len(self.corals)
        lasted, sums = np.zeros(many), np.zeros((4, many))
        beyond, later = np.zeros(many, bool), np.zeros(many, bool)
        for length, stretch in stretches:
            light, seats = self.of_spots(stretch), self._seats[stretch]
            if light is None:
                continue
            here = (seats >= 0) & ~light.inside[seats]
            seats = seats[here]
            lasted[here] += length
            daily = nan if light.dli_mol is None else light.dli_mol[seats]
            columns = light.par_umol[seats], light.low_umol[seats], light.high_umol[seats], daily
            for total, column in zip(sums, columns, strict=True):
                total[here] += length * column
            beyond[here] |= light.extrapolated[seats]
            later[here] |= light.rests_on["measured_later"]
        result = {}
        for k in np.flatnonzero(lasted):
            par, low, high, dli = (sums[:, k] / lasted[k]).tolist()
            known = None if dli != dli else dli
            result[self.corals[k].pk] = MeanLight(
                par, low, high, known, float(lasted[k]), bool(beyond[k]), bool(later[k])
            )
        return result

    @cached_property
    def turns(self) -> list[dt.datetime]:
        """The moments at which any coral's light may change, ascending."""
        turns = set(self.light.steps_between(*EVER))
        for coral in self.corals:
            days = [spot.since for spot in coral.spots.all()] + [coral.added_on]
            if coral.gone_on:
                days.append(coral.gone_on + DAY)
            turns |= {self.midnight(day) for day in days}
        return sorted(turns)

    @property
    def stretches_max(self) -> int:
        """How many stretches are weighed at most."""
        return STRETCHES_MAX

    @cached_property
    def weighed_from(self) -> dt.date | None:
        """The date from which notes are weighed; None for all, where stretches are few enough."""
        return self.parts[0].since

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """The Parts of a tank's time of STRETCHES_MAX stretches each, newest first."""
        cuts = range(len(self.turns) - STRETCHES_MAX, 0, -STRETCHES_MAX)
        days = dict.fromkeys(self.date(self.turns[cut]) + DAY for cut in cuts)
        bounds = [None, *days, None]
        return tuple(Part(since, until) for until, since in pairwise(bounds))

    def turns_between(self, start: dt.datetime, end: dt.datetime) -> list[dt.datetime]:
        """Return the turns in (start, end), ascending."""
        return self.turns[self.stretch_at(start) : bisect_left(self.turns, end)]


def mean_light(stretches: Sequence[tuple[float, MeanLight]]) -> MeanLight:
    """Return the MeanLight of (days, MeanLight) stretches, each weighed by its days."""
    days = sum(length for length, _ in stretches)

    def mean(name: str) -> float:
        return float(sum(length * getattr(light, name) for length, light in stretches) / days)

    known = all(light.dli_mol is not None for _, light in stretches)
    return MeanLight(
        par_umol=mean("par_umol"),
        low_umol=mean("low_umol"),
        high_umol=mean("high_umol"),
        dli_mol=mean("dli_mol") if known else None,
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


def band_middle_umol(band: Band) -> float:
    """Return the middle of a band as light is felt, by ratios: the geometric mean of its ends."""
    return math.sqrt(band.low_umol * band.high_umol)


def band_place(light: MeanLight | SpotLight, coral: Coral) -> BandPlace:
    """Return the BandPlace of a MeanLight or SpotLight in a coral's band under the same hours."""
    band = coral.band(light.full_hours)

    def side(par_umol: float) -> str:
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


def light_gap(old: SpotLight | None, new: SpotLight | None) -> LightGap | None:
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
