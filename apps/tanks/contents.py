"""What a tank holds at a place: a box may not be made smaller than that.

Readings and spots belong to higher floors, so they are reached through the tank's own
related managers, never by import.
"""

from django.db.models import F, Q

# (side of the box, coordinate that must not pass it)
SIDES = [("length_cm", "x_cm"), ("width_cm", "y_cm"), ("depth_cm", "depth_cm")]
ROCK_SIZES = {"x_cm": "length_cm", "y_cm": "width_cm", "depth_cm": "height_cm"}
# Half a millimetre: what rounding of typed inches may leave over.
SLACK_CM = 0.05


def outside_errors(tank):
    """Return {side: sentence} for each side about to become too short for what is in the tank.

    A side that stays or grows is not looked at: a new name must never be refused for that.
    """
    stored = type(tank).objects.filter(pk=tank.pk).values(*(side for side, _ in SIDES)).first()
    errors = {}
    for side, axis in SIDES:
        shrinks = stored and getattr(tank, side) < stored[side]
        found = _outside(tank, axis, getattr(tank, side)) if shrinks else []
        if found:
            errors[side] = (
                f"Too small for what is in the tank: {_listed(found)} would lie outside the "
                "water. Move or remove that first."
            )
    return errors


def _outside(tank, axis, end_cm):
    """Return [(count, noun)] of what lies past `end_cm` along one axis."""
    far = end_cm + SLACK_CM
    readings = tank.surveys.present().filter(Q(**{f"readings__{axis}__gt": far}))
    # Where a coral sat before, or one that is gone, was in the tank as it was then.
    living = tank.corals.present().filter(gone_on__isnull=True).prefetch_related("spots")
    held = [[s for s in coral.spots.all() if s.removed_at is None] for coral in living]
    last = [max(spots, key=lambda spot: (spot.since, spot.pk)) for spots in held if spots]
    spots = sum(getattr(spot, axis) > far for spot in last)
    reach = F(axis) + F(ROCK_SIZES[axis])
    rocks = tank.rocks.present().annotate(reach_cm=reach).filter(reach_cm__gt=far)
    counts = [(readings.count(), "reading"), (spots, "coral spot"), (rocks.count(), "rock")]
    return [(count, noun) for count, noun in counts if count]


def _listed(found):
    """Return "2 readings and 1 rock"."""
    words = [f"{count} {noun}{'' if count == 1 else 's'}" for count, noun in found]
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
