"""Layout plans of the demo scenario: questions a keeper asks, searched to the end."""

from django.utils import timezone

from apps.photics.layout.question import Candidate, Limits, Question
from apps.photics.layout.search import Search
from apps.planning.layout.measured_tank import measured_tank
from apps.planning.layout.zones.inhabitants import Wish, usual_zones
from apps.planning.models import Plan
from apps.planning.stored_layout import StoredQuestion, write_question, write_state


def write_layouts(row, tank):
    """Write the layout plans of a tank, searched to the end, of usual zones.

    Asked after its surveys: they tell the tank's law and what its own lamp gives.
    """
    lamp = tank.owner.fixtures.get(name=row.lamp)
    measured = measured_tank(tank, timezone.now())
    for wish in row.plans:
        panel = Candidate(
            lamp.name, lamp.kind, lamp.lit_length_cm, lamp.lit_width_cm, wish.beams_deg,
            measured.outputs[lamp.pk], owned=wish.owned,
        )  # fmt: skip
        wished = [Wish(key) for key in wish.zones]
        zones = usual_zones(wished, full_hours=wish.day_hours, box=tank.scene())
        question = Question(
            tank=tank.scene(),
            zones=tuple(zone for zone, _ in zones),
            candidates=(panel,),
            limits=Limits((15.0, 40.0), (0.0, tank.length_cm), (0.0, tank.width_cm), wish.count),
            rocks=tank.scene_rocks(),
            law=measured.law,
        )
        state = Search(question).run()
        stored = StoredQuestion(
            question, (f"own:{lamp.pk}",), wish.day_hours, None, measured.surveyed_on,
            origins=tuple(origin for _, origin in zones),
        )  # fmt: skip
        plan = Plan(
            owner=tank.owner,
            tank=tank,
            kind=Plan.Kind.LAYOUT,
            name=wish.name,
            notes=wish.notes,
            asked=write_question(stored),
            answer=write_state(state, finished=True),
        )
        plan.full_clean()
        plan.save()
