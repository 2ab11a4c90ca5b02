"""The demo keeper's plans: a fifth more light for the long shelf, in small steps from today on."""

from django.utils import timezone

from apps.planning.acclimation.acclimating import save_acclimation, steps_of
from apps.planning.acclimation.limiting_coral import coral_targets
from apps.planning.models import Acclimation
from apps.planning.what_if.live_light import live_light

TANK, FACTOR = "The long shelf", 1.2


def write_plans(tank):
    """Write the whole-tank acclimation of the one tank that has it."""
    if tank.name != TANK:
        return None
    live = live_light(tank, timezone.now())
    leader = coral_targets(tank, live, factor=FACTOR)[0]
    plan = Acclimation(
        tank=tank,
        coral=leader.coral,
        whole_tank=True,
        means=Acclimation.Means.LEVEL,
        starts_on=tank.today(),
        start_umol=leader.acclimated_umol,
        target_umol=leader.end_umol,
        text="More light for the stags; the leathers are watched.",
        created_by=tank.owner,
    )
    steps = steps_of(plan, spot=leader.spot, live=live)
    return save_acclimation(plan=plan, steps=steps, rig=live.rows)
