"""Adding many water events at once, those already in the log left out."""

from django.db import transaction

from apps.corals.models import WaterEvent
from apps.corals.water.probe import THINNED
from apps.later.progress import unheard
from apps.tanks.access import hold_tank

# So many are written between two words on how far it is: chosen, a tenth of a second's work.
EVENTS_AT_ONCE = 1_000
FACTS = ("happened_at", "kind", "value", "unit", "text")


def identity(facts, zone):
    """Return what makes the same event of two, from its FACTS by name.

    Of a probe's day there is one lowest, mean and highest, whatever they are: a file that ends
    within a day and a longer one tell it differently.
    """
    if facts["text"] in THINNED:
        day = facts["happened_at"].astimezone(zone).date()
        return day, facts["kind"], facts["unit"], facts["text"]
    return tuple(facts[name] for name in FACTS)


@transaction.atomic
def add_water_events(*, tank, events, by, progress=unheard):
    """Save sound, unsaved WaterEvents of a tank and return how many were new.

    An event the log already holds is passed over, so that a file sent twice, or one that grew
    since, adds only what is new. `progress` hears how many are in.
    """
    # Two imports at once wait for each other: the second sees what the first added.
    hold_tank(tank.pk)
    new = new_water_events(tank, events)
    for event in new:
        event.created_by = by
    for done in range(0, len(new), EVENTS_AT_ONCE):
        progress(done, len(new), "entries")
        WaterEvent.objects.bulk_create(new[done : done + EVENTS_AT_ONCE])
    return len(new)


def new_water_events(tank, events):
    """Return those of some WaterEvents that the log does not hold, each once: one query."""
    known = {
        identity(dict(zip(FACTS, row, strict=True)), tank.zone)
        for row in tank.water_events.present().values_list(*FACTS)
    }
    new = []
    for event in events:
        facts = identity({name: getattr(event, name) for name in FACTS}, tank.zone)
        if facts not in known:
            known.add(facts)
            new.append(event)
    return new
