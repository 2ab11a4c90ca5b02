"""Making an acclimation with its steps, and ticking them off."""

import datetime as dt
from collections.abc import Iterable, Sequence

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from apps.accounts.models import User
from apps.common.serving.row_locks import hold_row
from apps.corals.models import Coral, HealthNote, Spot
from apps.lighting.models import HungFixture
from apps.lighting.rig import rig_in_force
from apps.photics import limits
from apps.photics.day.acclimation import ramp
from apps.planning.acclimation.following import Following, Noted, Ticked, follow
from apps.planning.acclimation.staleness import gone_stale
from apps.planning.acclimation.step_settings import UnreachableLight, step_settings
from apps.planning.models import PACE_OF, Acclimation, AcclimationStep, AcclimationTick
from apps.planning.what_if.live_light import LiveLight

# Notes that speak for the coral being well.
WELL = (HealthNote.Seen.WELL, HealthNote.Seen.COLOUR_GAIN)


def steps_of(plan: Acclimation, *, spot: Spot, live: LiveLight) -> list[AcclimationStep]:
    """Return the unsaved AcclimationSteps of a plan; raises UnreachableLight with a sentence."""
    made = ramp(
        plan.start_umol,
        to_light=plan.target_umol,
        rate=plan.rate_percent / 100.0,
        least_days=PACE_OF[plan.pace].least_days,
        every_days=plan.every_days,
    )
    if len(made.light) > limits.STEPS_MAX:
        raise UnreachableLight(
            f"That is {len(made.light)} steps. Allow a faster rise, or start nearer to the target."
        )
    settings = step_settings(plan.means, made.light, spot=spot, live=live)
    return [
        AcclimationStep(acclimation=plan, number=k, light_umol=light, setting=setting)
        for k, (light, setting) in enumerate(
            zip(made.light.tolist(), settings.tolist(), strict=True), start=1
        )
    ]


@transaction.atomic
def save_acclimation(
    *, plan: Acclimation, steps: Sequence[AcclimationStep], rig: Sequence[HungFixture]
) -> Acclimation:
    """Save a new plan with its steps; `rig` are the HungFixtures they are counted from."""
    plan.rig = stored_rig(rig)
    plan.full_clean(exclude=["created_by"])
    plan.save()
    for step in steps:
        step.acclimation = plan
    AcclimationStep.objects.bulk_create(steps)
    return plan


def stored_rig(rows: Sequence[HungFixture]) -> list[dict[str, object]]:
    """Return HungFixtures as a plan keeps those its steps are counted from."""
    names = ("number", "name", "zone", *HungFixture.SETTINGS)
    return [{name: getattr(row, name) for name in names} for row in rows]


def following_of(
    plan: Acclimation, notes: Iterable[HealthNote], rows: Sequence[HungFixture]
) -> Following:
    """Return the Following of a plan read `with_all`, today.

    `notes` are those of its corals, `rows` the HungFixtures over its tank.
    """
    following = follow(
        steps=len(plan.steps.all()),
        starts_on=plan.starts_on,
        every_days=plan.every_days,
        waits=plan.waits,
        begun_at=plan.created_at,
        limiting=plan.coral_id,
        ticked=[Ticked(t.number, t.done_on, t.created_at) for t in plan.ticks.all()],
        noted=[
            Noted(note.coral_id, note.shows(HealthNote.LIGHTER), note.noted_on, note.created_at)
            for note in notes
        ],
    )
    return gone_stale(following, plan, rows, plan.tank.today())


def notes_of(plan: Acclimation) -> list[HealthNote]:
    """Return the present notes that count for a plan: of its coral, or of all in the tank."""
    return notes_by_plan([plan])[plan.pk]


def notes_by_plan(plans: Sequence[Acclimation]) -> dict[int, list[HealthNote]]:
    """Return the notes that count for each plan, by its key; of one tank, read at once."""
    if not plans:
        return {}
    corals = Coral.objects.present().living().filter(tank=plans[0].tank_id)
    if not any(plan.whole_tank for plan in plans):
        corals = corals.filter(pk__in={plan.coral_id for plan in plans})
    notes = list(
        HealthNote.objects.present()
        .filter(coral__in=corals)
        .filter(noted_on__gte=min(counted_from(plan) for plan in plans))
        .select_related("coral")
    )
    # No two databases search the signs of a note alike; what is read here is little.
    counted = [note for note in notes if note.shows((*HealthNote.LIGHTER, *WELL))]
    return {plan.pk: [note for note in counted if concerns(plan, note)] for plan in plans}


def counted_from(plan: Acclimation) -> dt.date:
    """Return the first day whose notes count for a plan."""
    starts_on: dt.date = plan.starts_on
    return starts_on - dt.timedelta(days=limits.STEPS_MAX)


def concerns(plan: Acclimation, note: HealthNote) -> bool:
    """Return whether a note is of a coral that a plan changes the light of, and recent."""
    mine = plan.whole_tank or note.coral_id == plan.coral_id
    return bool(mine and note.noted_on >= counted_from(plan))


@transaction.atomic
def tick_step(*, plan: Acclimation, number: int, done_on: dt.date, user: User) -> AcclimationTick:
    """Tick the step that is next, on a day from its due day to today; return the tick.

    Raises ValidationError when another step is next by now, or for a day that is too early.
    """
    # The row stands for its ticks: two taps at once must not take two steps.
    plan = hold_row(type(plan).objects, plan.pk)
    following = following_of(plan, notes_of(plan), rig_in_force(plan.tank, timezone.now()))
    if number != following.next_number:
        raise ValidationError("This step is not the next one any more. Look at the plan again.")
    if done_on > plan.tank.today():
        raise ValidationError({"done_on": "This is in the future. Tick it once it is done."})
    if not following.goes_back and following.due_on and done_on < following.due_on:
        raise ValidationError(
            {"done_on": f"Too soon: from {following.due_on:%-d %b %Y} on, to keep the plan’s pace."}
        )
    if following.reached_on and done_on < following.reached_on:
        raise ValidationError({"done_on": "This is before the step it follows."})
    tick = AcclimationTick(acclimation=plan, number=number, done_on=done_on, created_by=user)
    tick.save()
    return tick


@transaction.atomic
def untick(tick: AcclimationTick) -> None:
    """Take the newest tick of a plan back; raises ValidationError for an older one."""
    # As when one is ticked: the row stands for its ticks.
    hold_row(Acclimation.objects, tick.acclimation_id)
    if tick.acclimation.ticks.order_by("-created_at", "-pk").first() != tick:
        raise ValidationError("Only the newest step can be taken back.")
    tick.delete()
