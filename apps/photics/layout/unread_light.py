"""The light of a tank by what is stated of its fixtures: before any reading, or with very few.

The prior is that of a planned rig (`planned_light.py`), taken in PAR: it stands alone where nobody
read the tank, and one reading is enough to narrow it. By the law of the conditional normal.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from apps.photics.field.fit_model import alone
from apps.photics.field.light_field import LightField, fit_light_field
from apps.photics.field.readings import SurveyReadings
from apps.photics.field.summary import unread_summary
from apps.photics.ground.extrapolation import span_of
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.layout.planned_light import PlannedRig
from apps.photics.rig.calibration import unread
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.prior import RigPrior
from apps.photics.rig.rig import Rig
from apps.photics.rig.tank_optics import USUAL_LAW, TankLaw

# How far the outputs of two fixtures of one description differ [log]: our own choice.
OWN_OUTPUT = 0.05


def rig_prior(
    tank: Tank,
    fixtures: Sequence[Fixture],
    outputs: Sequence[OutputEstimate],
    rocks: Sequence[Rock] = (),
    law: TankLaw = USUAL_LAW,
) -> RigPrior:
    """Return what is known of lit fixtures by their outputs, one for each, at full level."""
    planned = PlannedRig(Rig(tank, tuple(fixtures), rocks), tuple(outputs), law)
    covariance = planned.root.T @ planned.root
    many = planned.rig.many
    covariance[:many, :many] += OWN_OUTPUT**2 * np.eye(many)
    return RigPrior(planned.theta, covariance)


def unread_field(
    tank: Tank,
    fixtures: Sequence[Fixture],
    outputs: Sequence[OutputEstimate],
    rocks: Sequence[Rock] = (),
) -> LightField:
    """Return the LightField of fixtures that nobody read yet.

    `outputs` of the lit ones, in order. Raises ValueError where none is lit.
    """
    lit = lit_of(fixtures)
    if not lit:
        raise ValueError("No fixture is lit, so there is no light to map.")
    fit = unread(Rig(tank, lit, rocks), rig_prior(tank, lit, outputs, rocks))
    size = (tank.length_cm, tank.width_cm, tank.depth_cm)
    corners = np.array([(i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1)]) * size
    field = LightField(
        tank,
        alone(fit),
        span_of(corners, tank),
        unread_summary(np.nan),
        guessed=False,
        fixtures=tuple(fixtures),
        calibrated=fit,
        rocks=tuple(rocks),
        measured=False,
    )
    summary = unread_summary(field.typical_error(field.model))
    return replace(field, summary=summary, survey_summaries=(summary,))


def field_of_few(
    surveys: Sequence[SurveyReadings],
    *,
    tank: Tank,
    fixtures: Sequence[Fixture],
    outputs: Sequence[OutputEstimate],
    rocks: Sequence[Rock] = (),
    meter_uncertainty_percent: float = 0.0,
) -> LightField:
    """Return the LightField of too few readings for a map, one or more, by stated outputs as well.

    `surveys`: the field's own first; the other arguments as `fit_light_field` and `unread_field`
    take them. Raises ValueError where no fixture is lit. Its typical error is what it foresees of
    itself: so few readings foresee each other by chance.
    """
    first, *others = surveys
    lit = lit_of(fixtures)
    if not lit:
        raise ValueError("No fixture is lit, so there is no light to map.")
    field = fit_light_field(
        first.points_cm,
        first.par_umol,
        tank=tank,
        fixtures=fixtures,
        rocks=rocks,
        spread=first.spread,
        scale_deviation=first.scale_deviation,
        others=others,
        meter_uncertainty_percent=meter_uncertainty_percent,
        known=rig_prior(tank, lit, outputs, rocks),
    )
    error = field.typical_error(field.model)
    summaries = tuple(replace(one, typical_error_percent=error) for one in field.survey_summaries)
    return replace(field, summary=summaries[0], survey_summaries=summaries)


def lit_of(fixtures: Sequence[Fixture]) -> tuple[Fixture, ...]:
    """Return the fixtures that shine."""
    return tuple(fixture for fixture in fixtures if fixture.level > 0)
