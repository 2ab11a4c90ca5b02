"""From a survey's rows to its light field, fitted once for all who ask for it."""

import datetime as dt
import hashlib
import logging
from abc import ABC, abstractmethod
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from django.db.models import Prefetch, prefetch_related_objects

from apps.common.kept import keep, kept
from apps.common.reading_once import read_once
from apps.lighting.history import LightHistory
from apps.lightmap.joint_input import Contribution, Fitted, KnownOutputs, joint_input
from apps.lightmap.rig_transition import RigTransition, field_after
from apps.photics.field.light_field import LightField
from apps.photics.ground import scene
from apps.surveys.models import Reading, Survey
from apps.tanks.models import Tank

logger = logging.getLogger(__name__)

UNFITTED = (
    "No map could be worked out of these readings, the rock and the lamps as they are entered. "
    "Check the rock’s and the lamps’ measures; the readings are kept."
)


@dataclass(frozen=True)
class SurveyMap:
    """A survey's light at the day's peak, by all readings up to it; or why there is none."""

    survey_pk: int
    taken_at: dt.datetime
    fitted: Fitted
    cache_key: str = ""
    anchor_at: dt.datetime | None = None  # when the rig hung that it is followed from
    rests_on: tuple[Contribution, ...] = ()

    @property
    def field(self) -> LightField | None:
        """The field on the survey's day, None where it carries no map."""
        return self.fitted.field

    @property
    def problem(self) -> str:
        """Why there is no map."""
        return self.fitted.problem

    @property
    def mapped(self) -> LightField:
        """The field of a survey that carries a map."""
        if self.fitted.field is None:
            raise ValueError(self.problem)
        return self.fitted.field

    @property
    def anchored(self) -> LightField:
        """The field that changes are followed from, in terms of the rig at `followed_from`."""
        if self.fitted.anchored is None:
            raise ValueError(self.problem)
        return self.fitted.anchored

    @property
    def followed_from(self) -> dt.datetime:
        """The moment whose rig `anchored` is in terms of."""
        return self.anchor_at or self.taken_at


def fit_survey(
    survey: Survey,
    history: LightHistory,
    earlier: Iterable[Survey] = (),
    outputs: KnownOutputs | None = None,
) -> SurveyMap:
    """Return the SurveyMap of a survey, from the cache when nothing it rests on has changed.

    `earlier`: surveys whose readings join its own where they were taken before; none for what the
    survey alone says. `outputs`: what is stated of the fixtures, by which a few readings are
    enough; None for what readings alone say.
    """
    if not survey.readings.all():
        problem = Fitted(None, None, "This survey has no readings yet.")
        return SurveyMap(survey.pk, survey.taken_at, problem)
    key = ""
    try:
        joint = joint_input(survey, earlier, history, outputs)
        key = "light-map-" + hashlib.sha256(joint.text.encode()).hexdigest()
        fitted = kept(key, joint.fit)
    except Exception:
        # One tank's odd geometry must not take its every page down with it.
        logger.exception("The light of survey %s could not be fitted", survey.pk)
        return SurveyMap(survey.pk, survey.taken_at, Fitted(None, None, UNFITTED), key)
    return SurveyMap(survey.pk, survey.taken_at, fitted, key, joint.anchor_at, joint.rests_on)


def ready_to_draw(fitted: SurveyMap) -> None:
    """Keep what every drawing of a SurveyMap needs with its field: made once, not once a page."""
    field = fitted.field
    if field is None:
        return
    drawn_from = ["beyond_percent", "open_estimate", *(["lattice"] if field.is_smooth else [])]
    if any(name not in vars(field) for name in drawn_from):
        for name in drawn_from:
            getattr(field, name)  # A cached property: asking for it makes it.
        keep(fitted.cache_key, fitted.fitted)


def surveys_for_fitting(
    tank: Tank, chosen_pk: int | None = None, *, until: dt.datetime | None = None
) -> list[Survey]:
    """Return the tank's present surveys with readings, oldest first, for `fit_survey`.

    Those taken after `until` are left out, where one is given.

    A survey made beforehand says nothing of the light yet. It comes only when it is chosen by
    its key or when there is no other, so that the map can say so.
    """
    surveys = read_once(("surveys for fitting", tank.pk), lambda: read_surveys(tank))
    if until is not None:
        surveys = [s for s in surveys if s.taken_at <= until]
    prefetch_related_objects([tank], "rocks")
    read = [s for s in surveys if s.readings.all() or s.pk == chosen_pk]
    result = sorted(read or surveys, key=lambda s: (s.taken_at, s.pk))
    for survey in result:
        # The same tank object for all, so that its rocks are read once.
        survey.tank = tank
    return result


def read_surveys(tank: Tank) -> list[Survey]:
    """Return the tank's present surveys of all light with their readings in order."""
    rows = Reading.objects.order_by("position", "pk")
    # One channel alone is a part of the light: no map of the tank's light rests on it.
    surveys = tank.surveys.present().filter(channel="").select_related("meter")
    return list(surveys.prefetch_related(Prefetch("readings", queryset=rows)))


class TankMap(ABC):
    """A map of a tank's light, worked out when first needed: a survey's, or one nobody read."""

    survey_pk: int  # 0 where no survey stands behind it
    taken_at: dt.datetime  # the moment it is the light of
    measured: bool  # whether any reading stands behind it

    @cached_property
    @abstractmethod
    def fitted(self) -> SurveyMap:
        """The SurveyMap."""

    @property
    def field(self) -> LightField | None:
        return self.fitted.field

    @property
    def mapped(self) -> LightField:
        return self.fitted.mapped

    @property
    def problem(self) -> str:
        return self.fitted.problem

    @property
    def anchored(self) -> LightField:
        return self.fitted.anchored

    @property
    def followed_from(self) -> dt.datetime:
        return self.fitted.followed_from

    @property
    def factor_from(self) -> dt.datetime:
        """The moment from which logged factors count: its readings know those of before."""
        return self.followed_from

    @property
    def vague_from(self) -> dt.datetime:
        """The moment from which a keeper's guesses count."""
        return self.taken_at


class LazyMap(TankMap):
    """A survey's SurveyMap, fitted when first needed."""

    measured = True

    def __init__(
        self,
        survey: Survey,
        history: LightHistory,
        earlier: Sequence[Survey] = (),
        outputs: KnownOutputs | None = None,
    ) -> None:
        self.survey, self.history, self.earlier = survey, history, earlier
        self.survey_pk, self.taken_at = survey.pk, survey.taken_at
        self.outputs = outputs

    @cached_property
    def fitted(self) -> SurveyMap:
        """The SurveyMap."""
        return fit_survey(self.survey, self.history, self.earlier, self.outputs)


def map_after(
    fitted: SurveyMap, transition: RigTransition | None, rocks: tuple[scene.Rock, ...]
) -> SurveyMap:
    """Return the SurveyMap after a RigTransition that is not dark, kept like the map itself.

    The transition is from `followed_from` on, None for no change since then.
    """
    if fitted.field is None:
        return fitted
    anchored = fitted.anchored
    if transition is None:
        return replace(
            fitted, fitted=Fitted(anchored, anchored, ""), cache_key=f"{fitted.cache_key}-a"
        )
    key = "light-map-" + hashlib.sha256(repr((fitted.cache_key, transition)).encode()).hexdigest()
    result = kept(key, lambda: Fitted(field_after(anchored, transition, rocks), None, ""))
    return replace(fitted, fitted=result, cache_key=key)
