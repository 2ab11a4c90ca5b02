"""Where every coral of a tank stands today: its light, its band, and what was last seen on it."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from django.db.models import OuterRef, Subquery

from apps.corals.condition import WELL_FROM, looks_unwell
from apps.corals.models import Band, Coral, CoralQuerySet, HealthNote, Photo, Spot
from apps.drawing.gauge import Gauge, band_gauge
from apps.lightmap.lightmap import TankLight
from apps.lightmap.pins import ABOVE, BELOW, UNKNOWN, WITHIN, BandState, state_in_band
from apps.lightmap.provenance import provenance_words
from apps.lightmap.spot_light import SpotLight
from apps.tanks.models import Tank


@dataclass(frozen=True)
class CoralStatus:
    coral: Coral
    spot: Spot | None
    light: SpotLight | None
    band: Band
    state: BandState
    # What the light rests on, or why there is none.
    rests_on: str
    latest_note: HealthNote | None
    days_since_note: int | None
    photo_key: UUID | None
    # What it bears on the light map, where a page says it.
    map_number: int | None = None

    @property
    def is_unwell(self) -> bool:
        """Whether it lives here and looked unwell when last noted."""
        note = self.latest_note
        return self.coral.gone_on is None and note is not None and looks_unwell(note)

    @property
    def is_misplaced(self) -> bool:
        """Whether it lives here in light beside its band."""
        return self.coral.gone_on is None and self.state.key in (ABOVE, BELOW)

    @property
    def gauge(self) -> Gauge | None:
        """Return its light drawn against its band, None where no light is known."""
        light, band = self.light, self.band
        if light is None:
            return None
        return band_gauge(
            light.par_umol,
            low=light.low_umol,
            high=light.high_umol,
            band_low=band.low_umol,
            band_high=band.high_umol,
        )


@dataclass(frozen=True)
class StatusGroup:
    """The corals of one state, under their heading."""

    key: str
    title: str
    short_title: str
    statuses: tuple[CoralStatus, ...]
    # How many stand open on a list of many corals; None: all.
    at_first: int | None = None

    @property
    def sign(self) -> str:
        """Which of the states' signs goes with its word."""
        return "worse" if self.key == UNWELL else self.key

    @property
    def folds(self) -> bool:
        """Whether a list closes them at first, under their heading and number."""
        return self.at_first == 0

    @property
    def first(self) -> tuple[CoralStatus, ...]:
        """Those that a list shows at once, or as soon as the group is opened."""
        return self.statuses[: self.at_first or None]

    @property
    def rest(self) -> tuple[CoralStatus, ...]:
        """Those that fold below the first."""
        return self.statuses[len(self.first) :]


# A list of so many corals stands open whole; of more, the first few of the group most in need.
OPEN_AT_MOST, FIRST_IN_NEED = 12, 5
UNWELL = "unwell"
UNWELL_TITLES = ("Not well when last noted", "Not well")
# What may need a hand comes first.
GROUP_TITLES = {
    ABOVE: ("Above their band", "Above"),
    BELOW: ("Below their band", "Below"),
    UNKNOWN: ("Light unknown", "Unknown"),
    WITHIN: ("Within their band", "Within"),
}


def band_state(light: SpotLight | None, band: Band) -> BandState:
    """Return the BandState of a SpotLight or None against a coral's Band."""
    ends = None if light is None else (light.par_umol, light.low_umol, light.high_umol)
    return state_in_band(ends, band.low_umol, band.high_umol)


def survey_words(light: SpotLight, zone: dt.tzinfo) -> str:
    """Say which survey a SpotLight rests on and how many changes lie between."""
    return provenance_words(zone, **vars(light))


def rests_on(light: SpotLight, zone: dt.tzinfo) -> str:
    """Say what a SpotLight rests on: its survey, and whether readings reach so far."""
    text = survey_words(light, zone)
    return f"{text}; extrapolated, the readings don’t reach here" if light.extrapolated else text


def why_no_light(spot: Spot | None, light: TankLight) -> str:
    """Say why there is no number: no spot, no survey, or surveys that can't carry a map."""
    if spot is None:
        return "No spot yet: say where it sits."
    if light.in_rock([(spot.x_cm, spot.y_cm, spot.depth_cm)])[0]:
        return "The spot lies within rock: correct it, or the rock’s measures."
    if not light.maps:
        return "No survey of this tank yet."
    return "No survey of this tank has enough readings for a map."


def spot_lights(
    spots: Iterable[Spot | None], light: TankLight, moment: dt.datetime
) -> list[SpotLight | None]:
    """Return the SpotLight of each Spot, None where there is no spot, in rock, or no map."""
    spots = list(spots)
    placed = [spot for spot in spots if spot is not None]
    result = iter(light.at([(s.x_cm, s.y_cm, s.depth_cm) for s in placed], moment))
    return [None if spot is None else next(result) for spot in spots]


def status_of(
    coral: Coral,
    spot: Spot | None,
    estimate: SpotLight | None,
    light: TankLight,
    *,
    now: dt.datetime,
    latest_note: HealthNote | None = None,
    photo_key: UUID | None = None,
) -> CoralStatus:
    """Return the CoralStatus of one coral whose light is known."""
    zone, band = coral.tank.zone, coral.band(light.history.full_hours_at(now))
    today = now.astimezone(zone).date()
    return CoralStatus(
        coral=coral,
        spot=spot,
        light=estimate,
        band=band,
        state=band_state(estimate, band),
        rests_on=why_no_light(spot, light) if estimate is None else rests_on(estimate, zone),
        latest_note=latest_note,
        days_since_note=None if latest_note is None else (today - latest_note.noted_on).days,
        photo_key=photo_key,
    )


def corals_with_latest(tank: Tank) -> CoralQuerySet:
    """Return the tank's present corals with their latest note and photo, spots read.

    `latest_note_pk`, `latest_photo_key` and `latest_photo_on` are None where there is none.
    """
    notes = HealthNote.objects.present().filter(coral=OuterRef("pk"))
    photos = Photo.objects.filter(note__coral=OuterRef("pk"), note__removed_at__isnull=True)
    newest_photo = photos.order_by("-note__noted_on", "-pk")
    return (
        tank.corals.present()
        .annotate(
            latest_note_pk=Subquery(notes.order_by("-noted_on", "-pk").values("pk")[:1]),
            latest_photo_key=Subquery(newest_photo.values("key")[:1]),
            latest_photo_on=Subquery(newest_photo.values("note__noted_on")[:1]),
        )
        .prefetch_related("spots")
    )


def coral_statuses(tank: Tank, light: TankLight, now: dt.datetime) -> list[CoralStatus]:
    """Return the CoralStatus of every present coral: three queries, one evaluation of the map."""
    corals = list(corals_with_latest(tank))
    notes = HealthNote.objects.in_bulk([c.latest_note_pk for c in corals if c.latest_note_pk])
    today = now.astimezone(tank.zone).date()
    for coral in corals:
        # The same tank object for all, so that it is read once.
        coral.tank = tank
    spots = [coral.spot_on(today) for coral in corals]
    lights = spot_lights(spots, light, now)
    return [
        status_of(
            coral,
            spot,
            result,
            light,
            now=now,
            latest_note=notes.get(coral.latest_note_pk),
            photo_key=coral.latest_photo_key,
        )
        for coral, spot, result in zip(corals, spots, lights, strict=True)
    ]


def called(statuses: list[CoralStatus], query: str) -> list[CoralStatus]:
    """Return the CoralStatuses whose name, genus or group holds the query."""
    query = query.strip().lower()

    def names(coral: Coral) -> str:
        return " ".join([coral.name, coral.genus, coral.get_group_display()]).lower()

    return [s for s in statuses if query in names(s.coral)] if query else statuses


def by_state(corals: Sequence[CoralStatus]) -> tuple[StatusGroup, ...]:
    """Return the StatusGroups of some corals, those without a coral left out."""
    groups = (
        StatusGroup(key, title, short, tuple(s for s in corals if s.state.key == key))
        for key, (title, short) in GROUP_TITLES.items()
    )
    return tuple(group for group in groups if group.statuses)


def by_need(corals: Sequence[CoralStatus]) -> tuple[StatusGroup, ...]:
    """Return the StatusGroups of some corals as a keeper sees to them: the unwell before all."""
    unwell = tuple(sorted((s for s in corals if s.is_unwell), key=urgency))
    first = (StatusGroup(UNWELL, *UNWELL_TITLES, unwell),) if unwell else ()
    groups = first + by_state([s for s in corals if not s.is_unwell])
    if len(corals) <= OPEN_AT_MOST:
        return groups
    open_at_first = [FIRST_IN_NEED] + [0] * len(groups)
    return tuple(replace(g, at_first=n) for g, n in zip(groups, open_at_first, strict=False))


def urgency(status: CoralStatus) -> tuple[Any, int]:
    """Sort what was noted of unwell corals: the worst first, then the latest."""
    note = status.latest_note
    condition = note.condition if note else None
    return (WELL_FROM if condition is None else condition, status.days_since_note or 0)


def shared_survey_words(corals: Iterable[CoralStatus], zone: dt.tzinfo) -> str:
    """Say which survey all these numbers rest on; empty when there is no number.

    At one moment one map serves the whole tank, so it is said once and not in every row.
    """
    lit = next((s.light for s in corals if s.light), None)
    return survey_words(lit, zone) if lit else ""
