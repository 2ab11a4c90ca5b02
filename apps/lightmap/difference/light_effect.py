"""What one light change did to the light: the map before it, the map after it, and their ratio."""

import datetime as dt
import math
from dataclasses import dataclass, replace

import numpy as np

from apps.lightmap.lightmap import Points, TankLight
from apps.lightmap.logged_factors import guesses, guesses_log
from apps.lightmap.rig_transition import RigTransition
from apps.lightmap.shown_field import ShownField
from apps.lightmap.spot_light import SpotLight
from apps.lightmap.survey_map import TankMap, map_after
from apps.photics.field.field_change import FieldChange
from apps.photics.ground.arrays import ArrayLike

# The last moment before a change.
BLINK = dt.timedelta(microseconds=1)


@dataclass(frozen=True)
class LightEffect:
    """A light change seen through the one map that serves its day."""

    light: TankLight
    serving: TankMap
    happened_at: dt.datetime
    factor: float
    guesses: float  # how many of a keeper its factor stands for

    @property
    def transitions(self) -> tuple[RigTransition | None, RigTransition | None]:
        """The RigTransitions just before and just after; None where the survey's rig stands."""
        before, after = self.happened_at - BLINK, self.happened_at
        transition = self.light.transition
        return transition(self.serving, before), transition(self.serving, after)

    @property
    def is_dark(self) -> bool:
        """Whether nothing shines on one side of it, so that there is no ratio."""
        return any(transition is not None and transition.is_dark for transition in self.transitions)

    def ratio_at(self, points_cm: ArrayLike) -> FieldChange:
        """Return the FieldChange at points (m, 3) [cm]; not for a dark one."""
        followed = self.light.followed(self.serving, points_cm)
        return self.with_factor(followed.ratio(*self.transitions))

    def with_factor(self, by_rig: FieldChange) -> FieldChange:
        """Return a FieldChange by the fixtures times the logged factor."""
        extra = guesses_log(self.guesses)
        change = np.log(by_rig.ratio) + math.log(self.factor)
        down = np.hypot(np.log(by_rig.ratio / by_rig.low), extra)
        up = np.hypot(np.log(by_rig.high / by_rig.ratio), extra)
        return FieldChange(
            ratio=np.exp(change),
            low=np.exp(change - down),
            high=np.exp(change + up),
            is_real=(change > down) | (change < -up),
            beyond=by_rig.beyond,
            in_rock=by_rig.in_rock,
        )

    def lights_at(self, points_cm: Points) -> list[list[SpotLight | None]]:
        """Return the SpotLights just before and just after at points, by the one map."""
        light = replace(self.light, pinned=self.serving)
        return [light.at(points_cm, m) for m in (self.happened_at - BLINK, self.happened_at)]

    def shown_fields(self) -> list[ShownField]:
        """Return the ShownFields just before and just after; not for a dark change."""
        history, shown = self.light.history, []
        for moment, transition in zip(
            (self.happened_at - BLINK, self.happened_at), self.transitions, strict=True
        ):
            serving = self.serving
            shown.append(
                ShownField(
                    map_after(serving.fitted, transition, self.light.rocks).mapped,
                    history.factor_between(serving.factor_from, moment),
                    guesses(history.vague_between(serving.vague_from, moment)),
                )
            )
        return shown


def light_effect(light: TankLight, change_pk: int) -> LightEffect | None:
    """Return the LightEffect of a change, or None where no map serves its day."""
    (change,) = (c for c in light.history.changes if c.pk == change_pk)
    serving = light.map_for(change.happened_at)
    if serving is None:
        return None
    vague = light.history.vague_between(change.happened_at - BLINK, change.happened_at)
    return LightEffect(
        light=light,
        serving=serving,
        happened_at=change.happened_at,
        factor=light.history.factor_between(change.happened_at - BLINK, change.happened_at),
        guesses=guesses(vague),
    )
