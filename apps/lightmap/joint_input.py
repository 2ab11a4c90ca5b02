"""Which surveys make a survey's map together: those of one rig pooled, those of others joined."""

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from apps.lighting.history import LightHistory
from apps.lighting.lamp_hours import Lamp
from apps.lightmap.logged_factors import CHANGE_LOG_DEVIATION, guesses
from apps.lightmap.rig_transition import RigTransition, field_after, transition_between
from apps.photics.field.light_field import LightField, NotEnoughReadings, fit_light_field
from apps.photics.field.readings import MIN_READINGS, SurveyReadings
from apps.photics.ground import scene
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.estimate import FieldSummary
from apps.photics.layout.unread_light import field_of_few
from apps.photics.rig.fixture_light import OutputEstimate
from apps.surveys.meters.scales import deviation_between, survey_deviation
from apps.surveys.models import Reading, Survey

# How far two surveys' scales may be apart [log]: on another day (dust, a probe held otherwise), and
# by another meter. Our own choice.
ANOTHER_DAY, ANOTHER_METER = 0.02, 0.05
# A rig is mapped by its own readings where it has this part of the most that any rig has [1], and
# no more surveys than these are joined to it, nor more readings. Our own choice: what is older adds
# little, and a page must not wait for it.
OWN_PART, SURVEYS_MOST, READINGS_MOST = 0.5, 12, 400
# Part of every cache key: raise it when the fit changes, so that no old map is shown.
FIT_VERSION = 15


class KnownOutputs(Protocol):
    """What is stated of the fixtures that hang over a tank."""

    def at(self, moment: dt.datetime, lamps: Iterable[Lamp]) -> list[OutputEstimate | None]:
        """Return the OutputEstimate of each Lamp that hangs at a moment, None where unknown."""
        ...


@dataclass(frozen=True)
class Contribution:
    """A survey that a map rests on, and how many readings it brings."""

    survey_pk: int
    taken_at: dt.datetime
    count: int


@dataclass(frozen=True)
class Fitted:
    """A map's field on its survey's day, and the field it is followed from through changes.

    `anchored` is in terms of the rig that most readings were taken under.
    """

    field: LightField | None
    anchored: LightField | None
    problem: str


@dataclass(frozen=True)
class JointInput:
    """All that a survey's map rests on; the first of `surveys` is of the anchor's rig."""

    anchor_at: dt.datetime
    tank: scene.Tank
    rocks: tuple[scene.Rock, ...]
    rig: tuple[scene.Fixture, ...]
    surveys: tuple[SurveyReadings, ...]
    place: int  # of the survey the map is shown for
    onward: RigTransition | None  # from the anchor to that survey
    meter_uncertainty_percent: float
    rests_on: tuple[Contribution, ...]
    # Of the lit fixtures, where there are too few readings for a map without them.
    outputs: tuple[OutputEstimate, ...] = ()

    @property
    def text(self) -> str:
        """All of it as a text: two inputs of one text have one fit."""
        surveys = [
            (
                np.asarray(s.points_cm).tolist(),
                np.asarray(s.par_umol).tolist(),
                np.asarray(s.spread).tolist(),
                replace(s, points_cm=(), par_umol=(), spread=None),
            )
            for s in self.surveys
        ]
        parts = (self.tank, self.rocks, self.rig, surveys, self.place, self.onward)
        stated = (self.outputs,) if self.outputs else ()
        return repr((FIT_VERSION, *parts, self.meter_uncertainty_percent, *stated))

    def fit(self) -> Fitted:
        """Return the Fitted, or why there is none."""
        try:
            anchored = self.anchored()
        except NotEnoughReadings as problem:
            return Fitted(None, None, str(problem))
        return Fitted(self.on_the_day(anchored), anchored, "")

    def anchored(self) -> LightField:
        """Return the field of the anchor's rig; raises NotEnoughReadings."""
        if self.outputs:
            return field_of_few(
                self.surveys,
                tank=self.tank,
                fixtures=self.rig,
                outputs=self.outputs,
                rocks=self.rocks,
                meter_uncertainty_percent=self.meter_uncertainty_percent,
            )
        first, *others = self.surveys
        return fit_light_field(
            first.points_cm,
            first.par_umol,
            tank=self.tank,
            fixtures=self.rig,
            rocks=self.rocks,
            spread=first.spread,
            scale_deviation=first.scale_deviation,
            others=others,
            meter_uncertainty_percent=self.meter_uncertainty_percent,
        )

    def on_the_day(self, anchored: LightField) -> LightField:
        """Return the field under the rig of the survey's own day, with the survey's summary."""
        summary = anchored.survey_summaries[self.place]
        if self.onward is None:
            return replace(anchored, summary=summary)
        field = field_after(anchored, self.onward, self.rocks)
        return replace(field, summary=joined_summary(summary, field.summary))


def joined_summary(own: FieldSummary, foreseen: FieldSummary) -> FieldSummary:
    """Return a survey's own summary with the typical error of a map that others helped to make."""
    return replace(
        own,
        typical_error_percent=foreseen.typical_error_percent,
        method="the light of your lamps, fitted to earlier readings, carried over the changes "
        "since and joined by those of this survey",
    )


def joint_input(
    survey: Survey,
    earlier: Iterable[Survey],
    history: LightHistory,
    outputs: KnownOutputs | None = None,
) -> JointInput:
    """Return the JointInput of a survey and those before it.

    `outputs` count where the readings are too few for a map without them.
    """
    surveys = followed_surveys(survey, earlier)
    anchor = anchor_of(surveys, history)
    pooled, elsewhere = [anchor], []
    for other in reversed(surveys):
        if other is anchor:
            continue
        if is_of_rig(anchor, other, history):
            pooled.append(other)
        elif joins(anchor, other, history):
            elsewhere.append(other)
    pooled, elsewhere = within_limits(survey, pooled, elsewhere)
    chosen = [*pooled, *elsewhere]
    if survey not in chosen:
        # The log can't follow its light from the anchor's, as where it says nothing shone.
        return joint_input(survey, (), history, outputs)
    return JointInput(
        anchor_at=anchor.taken_at,
        tank=survey.tank.scene(),
        rocks=survey.tank.scene_rocks(),
        rig=history.rig_at(anchor.taken_at),
        surveys=tuple(readings_of(s, survey, anchor, history) for s in chosen),
        place=chosen.index(survey),
        onward=onward(anchor, survey, history),
        meter_uncertainty_percent=100.0
        * math.expm1(survey_deviation(survey if survey.meter else anchor)),
        rests_on=tuple(
            Contribution(s.pk, s.taken_at, len(s.readings.all()))
            for s in sorted(chosen, key=lambda s: (s.taken_at, s.pk))
        ),
        outputs=stated_outputs(pooled, history, outputs),
    )


def stated_outputs(
    pooled: Sequence[Survey], history: LightHistory, outputs: KnownOutputs | None
) -> tuple[OutputEstimate, ...]:
    """Return the outputs of what shone, where surveys of one rig read too few spots without them.

    None where they read enough, or where the output of something that shone is not known.
    """
    spots = {
        (round(r.x_cm), round(r.y_cm), round(r.depth_cm)) for s in pooled for r in s.readings.all()
    }
    moment = pooled[0].taken_at
    lit = [lamp for lamp in history.lamps_at(moment) or () if lamp.fixture.level > 0]
    if outputs is None or len(spots) >= MIN_READINGS or not lit:
        return ()
    known = [output for output in outputs.at(moment, lit) if output is not None]
    return tuple(known) if len(known) == len(lit) else ()


def followed_surveys(survey: Survey, earlier: Iterable[Survey]) -> list[Survey]:
    """Return the survey and those before it, oldest first, back to one that starts anew."""
    moment = (survey.taken_at, survey.pk)
    before = [s for s in earlier if (s.taken_at, s.pk) < moment]
    result: list[Survey] = []
    for one in [survey, *sorted(before, key=lambda s: (s.taken_at, s.pk), reverse=True)]:
        if one is survey or has_light(one):
            result.append(one)
        if one.starts_anew:
            break
    return result[::-1]


def has_light(survey: Survey) -> bool:
    """Return whether any of a survey's readings is above zero; without, it maps nothing."""
    return any(reading.value_umol > 0 for reading in survey.readings.all())


def anchor_of(surveys: Sequence[Survey], history: LightHistory) -> Survey:
    """Return the newest survey of the rig that the map is fitted under.

    Of rigs with many readings the newest; the others' readings are carried over to it.
    """
    counts: dict[tuple[scene.Fixture, ...], int] = {}
    for one in surveys:
        rig = history.rig_at(one.taken_at)
        counts[rig] = counts.get(rig, 0) + len(one.readings.all())
    last = surveys[-1]
    if not history.rig_at(last.taken_at):
        return last
    known = {rig: count for rig, count in counts.items() if any(f.level > 0 for f in rig)}
    enough = max(MIN_READINGS, OWN_PART * max(known.values(), default=0))
    for one in reversed(surveys):
        if known.get(history.rig_at(one.taken_at), 0) >= enough:
            return one
    return last


def is_of_rig(anchor: Survey, other: Survey, history: LightHistory) -> bool:
    """Return whether another survey was taken under the anchor's rig, as far as the log says."""
    known = [bool(history.rig_at(one.taken_at)) for one in (anchor, other)]
    if known[0] != known[1]:
        return False
    return transition_between(history, anchor.taken_at, other.taken_at) is None


def joins(anchor: Survey, other: Survey, history: LightHistory) -> bool:
    """Return whether the changes between two surveys can be followed from the anchor's rig."""
    transition = transition_between(history, anchor.taken_at, other.taken_at)
    return transition is not None and transition.measured and not transition.is_dark


def within_limits(
    survey: Survey, pooled: Sequence[Survey], elsewhere: Sequence[Survey]
) -> tuple[list[Survey], list[Survey]]:
    """Return the surveys that are joined: the newest, up to SURVEYS_MOST and READINGS_MOST."""
    kept, readings = {pooled[0]}, len(pooled[0].readings.all())
    newest = sorted([*pooled[1:], *elsewhere], key=lambda s: (s.taken_at, s.pk), reverse=True)
    for one in newest[:SURVEYS_MOST]:
        readings += len(one.readings.all())
        if one is survey or readings <= READINGS_MOST:
            kept.add(one)
    oldest_first = sorted(elsewhere, key=lambda s: (s.taken_at, s.pk))
    return [s for s in pooled if s in kept], [s for s in oldest_first if s in kept]


def onward(anchor: Survey, survey: Survey, history: LightHistory) -> RigTransition | None:
    """Return the RigTransition from the anchor to the survey, logged factors in its levels."""
    transition = transition_between(history, anchor.taken_at, survey.taken_at)
    factor = history.factor_between(anchor.taken_at, survey.taken_at)
    if factor == 1.0:
        return transition
    rig = history.rig_at(anchor.taken_at)
    if transition is None:
        if not rig:
            return None
        none = (None,) * len(rig)
        transition = RigTransition(rig, rig, none, (0.0,) * len(rig), measured=True)
    after = tuple(replace(f, level=f.level * factor) for f in transition.after)
    return replace(transition, after=after)


def readings_of(
    other: Survey, survey: Survey, anchor: Survey, history: LightHistory
) -> SurveyReadings:
    """Return another survey's readings, at the day's peak, as the anchor's field takes them."""
    rows = list(other.readings.all())
    points, par, to_peak = peak_readings(other, rows)
    factor = history.factor_between(anchor.taken_at, other.taken_at)
    spread = np.array([r.spread_umol or math.nan for r in rows], float) * to_peak
    result = SurveyReadings(
        points_cm=points,
        par_umol=par / factor,
        spread=spread / factor,
        scale_deviation=scale_deviation(other, survey, history),
    )
    if other is anchor or is_of_rig(anchor, other, history):
        return result
    transition = transition_between(history, anchor.taken_at, other.taken_at)
    assert transition is not None  # else it would be of the anchor's rig
    return replace(
        result,
        fixtures=transition.after,
        same_as=transition.same_as,
        deviations=transition.prior_deviations,
    )


def scale_deviation(other: Survey, survey: Survey, history: LightHistory) -> float:
    """Return how far a survey's scale may be from that of the one the map is for [log]."""
    if other is survey:
        return 0.0
    vague = guesses(history.vague_between(other.taken_at, survey.taken_at))
    is_other_day = other.day() != survey.day()
    by_meters = deviation_between(other, survey)
    return math.hypot(
        CHANGE_LOG_DEVIATION * math.sqrt(vague),
        ANOTHER_DAY * is_other_day,
        ANOTHER_METER if by_meters is None else by_meters,
    )


def peak_readings(
    survey: Survey, readings: Iterable[Reading]
) -> tuple[FloatArray, FloatArray, float]:
    """Return points (n, 3) [cm], PAR at the day's peak (n,), and the factor to it [1]."""
    points = np.array([(r.x_cm, r.y_cm, r.depth_cm) for r in readings], float).reshape(-1, 3)
    values = np.array([r.value_umol for r in readings], float) * survey.to_peak
    return points, values, survey.to_peak
