"""Which light the map shows: of one survey, as it was measured or as the log makes it today."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from apps.lighting.history import Change, LightHistory
from apps.lightmap.page.query import AS_MEASURED, TODAY
from apps.lightmap.rig_transition import transition_between
from apps.lightmap.shown_field import ShownField
from apps.lightmap.survey_map import SurveyMap, fit_survey, map_after, ready_to_draw
from apps.photics.ground.estimate import FieldSummary
from apps.photics.ground.scene import Fixture
from apps.surveys.models import Survey
from apps.tanks.models import Tank


@dataclass(frozen=True)
class ChosenSurvey:
    """The survey a map is made of, with its map or why there is none."""

    survey: Survey
    fitted: SurveyMap
    measured_on: dt.date
    newer_exists: bool


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

    @property
    def summary(self) -> FieldSummary:
        """How the map shown was made."""
        return self.field.field.summary

    @property
    def guessed(self) -> bool:
        """Whether the map rests on fixtures that are only guessed."""
        return self.fitted.mapped.guessed


def choose_survey(
    surveys: Sequence[Survey], survey_pk: int | None, history: LightHistory, zone: dt.tzinfo
) -> ChosenSurvey:
    """Return the survey of that key, else the newest that carries a map, else the newest.

    Surveys are newest first; no more are fitted than needed.
    """
    survey, fitted = fitted_survey(surveys, survey_pk, history)
    newest = next((s for s in surveys if s.readings.all()), surveys[0])
    measured_on = survey.taken_at.astimezone(zone).date()
    return ChosenSurvey(survey, fitted, measured_on, survey.taken_at < newest.taken_at)


def fitted_survey(
    surveys: Sequence[Survey], survey_pk: int | None, history: LightHistory
) -> tuple[Survey, SurveyMap]:
    """Return the survey to show of those, newest first, with its SurveyMap."""
    named = [survey for survey in surveys if survey.pk == survey_pk]
    for survey in named or surveys:
        fitted = fit_survey(survey, history, surveys)
        if named or fitted.field is not None:
            return survey, fitted
    return surveys[0], fit_survey(surveys[0], history, surveys)


def light_shown(
    chosen: ChosenSurvey, tank: Tank, history: LightHistory, *, shown: str, moment: dt.datetime
) -> MapLight:
    """Return the MapLight of a survey with a map; `shown` is the reader's wish, "" for none."""
    taken_at = chosen.survey.taken_at
    changes = tuple(c for c in history.between(taken_at, moment) if c.touches_light)
    transition = transition_between(history, chosen.fitted.followed_from, moment)
    moved = bool(changes) or transition_between(history, taken_at, moment) is not None
    dark = transition is not None and transition.is_dark
    # An older survey is opened to see what was; the newest to see what is.
    usual = TODAY if moved and not chosen.newer_exists else AS_MEASURED
    shown = (shown or usual) if moved and not dark else AS_MEASURED
    factor = history.factor_between(taken_at, moment)
    drawn, field_factor, vague = chosen.fitted, 1.0, 0
    if shown == TODAY:
        drawn = map_after(chosen.fitted, transition, tank.scene_rocks())
        field_factor = history.factor_between(chosen.fitted.followed_from, moment)
        vague = len(history.vague_between(taken_at, moment))
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
    )
