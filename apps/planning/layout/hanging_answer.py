"""Turning an answer into what hangs: fixtures of the library, and the rows of a light change."""

from collections.abc import Sequence

import numpy as np
from django.db import transaction
from django.utils.timezone import now
from scipy.optimize import linear_sum_assignment

from apps.accounts.models import User
from apps.lighting.change.address import light_change_address
from apps.lighting.history import light_history
from apps.lighting.models import Fixture, HungFixture, LightChange
from apps.lighting.rig import rig_in_force
from apps.photics.layout.hanging import HungAt, Layout
from apps.photics.layout.question import Candidate, Places
from apps.planning.layout.programme import usual_ramp_hours
from apps.planning.layout.start_level import start_level
from apps.planning.models import Plan
from apps.planning.stored_layout import read_question

# An output known better than this, high over low [1], was stated; a wider one is a guess from
# watts. Chosen between what a rating and what watts alone leave open.
STATED_RATIO = 1.3


def hanging_address(*, plan: Plan, layout: Layout, user: User) -> str:
    """Return the address of the light-change form filled with a Layout of a plan's tank.

    Levels are those to start at: corals come slowly to the planned ones. A fixture that hangs
    already moves, the nearest of its kind; others that hang are marked to be taken down. Generic
    kinds are put into the keeper's library first, so that they can hang. A tank without hours of
    light gets those of the plan.
    """
    stored = read_question(plan.asked)
    fixtures = {
        number: library_fixture(
            user=user, source=stored.sources[number], candidate=stored.question.candidates[number]
        )
        for number in (kind.candidate for kind in layout.hung)
    }
    hanging = list(rig_in_force(plan.tank, now()))
    start = start_level(plan.tank, stored.question, layout, now())
    rows: list[HungFixture] = []
    for kind in layout.hung:
        fixture, candidate = fixtures[kind.candidate], stored.question.candidates[kind.candidate]
        same = nearest(kind.places_cm, [row for row in hanging if row.fixture_id == fixture.pk])
        for at, before in zip(kind.hung_at(), same, strict=True):
            row = row_of(at, start.percent(kind.level), fixture, before)
            row.turn_deg, row.tilt_deg = candidate.turn_deg, candidate.tilt_deg
            rows.append(row)
            if before is not None:
                hanging.remove(before)
    return light_change_address(
        plan.tank_id,
        rows,
        summary=f"Hung as planned: {plan.name}",
        reason=str(LightChange.Reason.HUNG),
        unit=user.units,
        down=hanging,
        hours=None if light_history(plan.tank).schedule_at(now()) else day_of(stored.day_hours),
    )


def day_of(full_hours: float) -> tuple[float, float]:
    """Return the hours from on to off and of each ramp that give so much full light a day [h]."""
    ramp_hours = usual_ramp_hours(full_hours)
    return full_hours + ramp_hours, ramp_hours


def nearest(places_cm: Places, rows: Sequence[HungFixture]) -> list[HungFixture | None]:
    """Return for each place the row of one kind that moves there, None where a new one hangs.

    All together move as little as can be; one that hangs further away is left for another place.
    """
    same: list[HungFixture | None] = [None] * len(places_cm)
    if not rows:
        return same
    at = np.array([(row.x_cm, row.y_cm) for row in rows], float)
    distance = np.linalg.norm(np.array(places_cm, float)[:, None] - at[None], axis=2)
    for place, row in zip(*linear_sum_assignment(distance), strict=True):
        same[int(place)] = rows[int(row)]
    return same


def row_of(
    at: HungAt, level_percent: int, fixture: Fixture, same: HungFixture | None
) -> HungFixture:
    """Return the HungFixture of one place at a level [%], taking over a row that hangs, if any."""
    x, y, height, beam = at
    where = {"x_cm": x, "y_cm": y, "height_cm": height}
    return HungFixture(
        fixture=fixture,
        number=same.number if same else None,
        **{name: place_cm(value, getattr(same, name, None)) for name, value in where.items()},
        turn_deg=0.0,
        beam_deg=None if beam == fixture.beam_deg else beam,
        level_percent=level_percent,
        loss_percent=same.loss_percent if same else None,
    )


def place_cm(planned_cm: float, hanging_cm: float | None) -> float:
    """Return a planned place to the tenth of a mm; as it hangs where that is the same."""
    rounded = round(planned_cm, 2)
    if hanging_cm is not None and round(hanging_cm, 2) == rounded:
        return hanging_cm
    return rounded


@transaction.atomic
def library_fixture(*, user: User, source: str, candidate: Candidate) -> Fixture:
    """Return the keeper's own Fixture for a candidate; a new one where they have none like it."""
    own = Fixture.objects.owned_by(user)
    kind, _, key = source.partition(":")
    fixture = own.filter(pk=key).first() if kind == "own" else None
    if fixture is None:
        output = candidate.output
        stated = output.high_umol_s / output.low_umol_s < STATED_RATIO
        facts = {
            "name": candidate.name,
            "kind": candidate.kind,
            "lit_length_cm": candidate.panel_x_cm,
            "lit_width_cm": candidate.panel_y_cm,
            "watts": candidate.watts,
            "ppf_umol_s": output.ppf_umol_s if stated else None,
        }
        fixture = own.filter(**facts).first()
        if fixture is None:
            fixture = Fixture(
                owner=user, beam_deg=candidate.beams_deg[0], emitter=candidate.emitter, **facts
            )
            fixture.full_clean()
            fixture.save()
    return fixture
