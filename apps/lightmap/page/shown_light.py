"""Which light the map shows: of one survey, as it was measured or as the log makes it today.

And the survey's readings beside it: what each showed, and what the others lead to there.
"""

import datetime as dt
import math
import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from apps.lighting.history import Change, LightHistory
from apps.lightmap.joint_input import KnownOutputs
from apps.lightmap.lightmap import tank_light
from apps.lightmap.logged_factors import guesses
from apps.lightmap.page.query import AS_MEASURED, TODAY
from apps.lightmap.rig_transition import transition_between
from apps.lightmap.shown_field import ShownField
from apps.lightmap.stated_outputs import OutputSource
from apps.lightmap.survey_map import SurveyMap, fit_survey, map_after, ready_to_draw
from apps.photics.ground.estimate import FieldSummary
from apps.photics.ground.scene import Fixture
from apps.surveys.models import Survey
from apps.tanks.models import Tank


@dataclass(frozen=True)
class ChosenSurvey:
    """The survey a map is made of, with its map or why there is none.

    Without a survey it is the light by stated outputs, which nobody measured.
    """

    survey: Survey | None
    fitted: SurveyMap
    measured_on: dt.date | None
    newer_exists: bool
    output_source: OutputSource = OutputSource.STATED  # of a light nobody measured


@dataclass(frozen=True)
class MapLight:
    """The light that is shown, and how it came about since the survey."""

    fitted: SurveyMap
    field: ShownField
    shown: str  # AS_MEASURED or TODAY
    changes: tuple[Change, ...]
    factor: float
    predicted_since: dt.date | None
    dark: bool  # today nothing shines: only what was measured can be shown
    rig: tuple[Fixture, ...]  # that hung on the day, where the keeper described it
    moment: dt.datetime  # of which it is the light
    outputs: tuple[str, ...] = ()  # of a light nobody measured: what is taken for each fixture

    @property
    def summary(self) -> FieldSummary:
        """How the map shown was made."""
        return self.field.field.summary

    @property
    def guessed(self) -> bool:
        """Whether the map rests on fixtures that are only guessed."""
        return self.fitted.mapped.guessed


def choose_survey(
    surveys: Sequence[Survey],
    survey_pk: int | None,
    history: LightHistory,
    zone: dt.tzinfo,
    outputs: KnownOutputs | None = None,
) -> ChosenSurvey:
    """Return the survey of that key, else the newest that carries a map, else the newest.

    Surveys are newest first; no more are fitted than needed.
    """
    survey, fitted = fitted_survey(surveys, survey_pk, history, outputs)
    newest = next((s for s in surveys if s.readings.all()), surveys[0])
    measured_on = survey.taken_at.astimezone(zone).date()
    return ChosenSurvey(survey, fitted, measured_on, survey.taken_at < newest.taken_at)


def unread_choice(tank: Tank, moment: dt.datetime) -> ChosenSurvey | None:
    """Return the ChosenSurvey of the light by stated outputs; None where no output is stated."""
    unread = tank_light(tank).unread
    serving = None if unread is None else unread.map_for(moment)
    if serving is None:
        return None
    return ChosenSurvey(None, serving.fitted, None, False, serving.output_source)


def unread_shown(
    chosen: ChosenSurvey, tank: Tank, history: LightHistory, moment: dt.datetime
) -> MapLight:
    """Return the MapLight of a light nobody measured, as it is at a moment."""
    unread = tank_light(tank).unread
    serving = None if unread is None else unread.map_for(moment)
    assert serving is not None  # it was chosen
    transition = transition_between(history, serving.followed_from, moment)
    dark = transition is not None and transition.is_dark
    drawn = map_after(chosen.fitted, None if dark else transition, tank.scene_rocks())
    factor = history.factor_between(serving.factor_from, moment)
    vague = guesses(history.vague_between(serving.vague_from, moment))
    ready_to_draw(drawn)
    return MapLight(
        fitted=chosen.fitted,
        field=ShownField(drawn.mapped, factor, vague, drawn.cache_key),
        shown=TODAY,
        changes=(),
        factor=factor,
        predicted_since=None,
        dark=dark,
        rig=history.rig_at(moment),
        moment=moment,
        outputs=serving.output_words(),
    )


def fitted_survey(
    surveys: Sequence[Survey],
    survey_pk: int | None,
    history: LightHistory,
    outputs: KnownOutputs | None = None,
) -> tuple[Survey, SurveyMap]:
    """Return the survey to show of those, newest first, with its SurveyMap."""
    named = [survey for survey in surveys if survey.pk == survey_pk]
    for survey in named or surveys:
        fitted = fit_survey(survey, history, surveys, outputs)
        if named or fitted.field is not None:
            return survey, fitted
    return surveys[0], fit_survey(surveys[0], history, surveys, outputs)


def light_shown(
    chosen: ChosenSurvey, tank: Tank, history: LightHistory, *, shown: str, moment: dt.datetime
) -> MapLight:
    """Return the MapLight of a survey with a map; `shown` is the reader's wish, "" for none."""
    if chosen.survey is None:
        return unread_shown(chosen, tank, history, moment)
    taken_at = chosen.survey.taken_at
    changes = tuple(c for c in history.between(taken_at, moment) if c.touches_light)
    transition = transition_between(history, chosen.fitted.followed_from, moment)
    moved = bool(changes) or transition_between(history, taken_at, moment) is not None
    dark = transition is not None and transition.is_dark
    # An older survey is opened to see what was; the newest to see what is.
    usual = TODAY if moved and not chosen.newer_exists else AS_MEASURED
    shown = (shown or usual) if moved and not dark else AS_MEASURED
    factor = history.factor_between(taken_at, moment)
    drawn, field_factor, vague = chosen.fitted, 1.0, 0.0
    if shown == TODAY:
        drawn = map_after(chosen.fitted, transition, tank.scene_rocks())
        field_factor = history.factor_between(chosen.fitted.followed_from, moment)
        vague = guesses(history.vague_between(taken_at, moment))
    ready_to_draw(drawn)
    return MapLight(
        fitted=chosen.fitted,
        field=ShownField(drawn.mapped, field_factor, vague, drawn.cache_key),
        shown=shown,
        changes=changes,
        factor=factor,
        predicted_since=changes[0].happened_at.astimezone(tank.zone).date() if changes else None,
        dark=dark,
        rig=history.rig_at(taken_at),
        moment=moment if shown == TODAY else taken_at,
    )


@dataclass(frozen=True)
class MeasuredRow:
    """A reading at the day's peak, and what the others lead to there."""

    number: int
    client_id: uuid.UUID
    x_cm: float
    y_cm: float
    depth_cm: float
    peak_umol: float
    expected_umol: float
    disagrees: bool

    @property
    def ratio(self) -> float:
        """What it showed for 1 of what the others lead to [1]."""
        return self.peak_umol / self.expected_umol

    @property
    def off_log(self) -> float:
        """How far it lies from that, up or down [log]."""
        return abs(math.log(max(self.ratio, 1e-9)))


def measured_rows(survey: Survey, summary: FieldSummary) -> tuple[MeasuredRow, ...]:
    """Return a MeasuredRow for each reading, in the order they were typed."""
    disagreeing = {reading.index for reading in summary.disagreeing}
    return tuple(
        MeasuredRow(
            number=i + 1,
            client_id=reading.client_id,
            x_cm=reading.x_cm,
            y_cm=reading.y_cm,
            depth_cm=reading.depth_cm,
            peak_umol=reading.value_umol * survey.to_peak,
            expected_umol=float(summary.loo_par_umol[i]),
            disagrees=i in disagreeing,
        )
        for i, reading in enumerate(survey.readings.all())
    )
