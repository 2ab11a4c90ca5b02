"""What a tank holds at a place: it may not be made smaller than that.

Readings and spots belong to apps above: they add to BEYOND a provider(tank, axis, far_cm) that
returns how many of them lie past a place along an axis, with their noun, and to PLACES a
provider(tank) that returns their noun and their places (x, y) [cm].
"""

from django.db.models import F

from apps.common.registry import Registry

# (side of the box, coordinate that must not pass it)
SIDES = [("length_cm", "x_cm"), ("width_cm", "y_cm"), ("depth_cm", "depth_cm")]
ROCK_SIZES = {"x_cm": "length_cm", "y_cm": "width_cm", "depth_cm": "height_cm"}
# Half a millimetre: what rounding of typed inches may leave over.
SLACK_CM = 0.05

BEYOND: Registry[tuple[int, str]] = Registry()
PLACES: Registry[tuple[str, list[tuple[float, float]]]] = Registry()
# What an outline hangs on beside the box around it.
OUTLINED = ("shape", "bow_cm", "outline_cm")


def outside_errors(tank):
    """Return {side: sentence} for each side about to become too short for what is in the tank.

    A side that stays or grows is not looked at: a new name must never be refused for that.
    """
    names = (*(side for side, _ in SIDES), *OUTLINED)
    stored = type(tank).objects.filter(pk=tank.pk).values(*names).first()
    errors = {}
    for side, axis in SIDES:
        shrinks = stored and getattr(tank, side) < stored[side]
        result = _outside(tank, axis, getattr(tank, side)) if shrinks else []
        if result:
            errors[side] = (
                f"Too small for what is in the tank: {_listed(result)} would lie outside the "
                "water. Move or remove that first."
            )
    changed = stored and any(stored[name] != getattr(tank, name) for name in names)
    if changed and not errors and (result := _cut_off(tank)):
        errors["shape"] = (
            f"Too small for what is in the tank: {_listed(result)} would lie outside this shape. "
            "Move or remove that first."
        )
    return errors


def _cut_off(tank):
    """Return [(count, noun)] of what lies in the box around a tank, but outside its panes."""
    scene = tank.scene()
    if scene.is_box:
        return []
    rocks = [
        (rock.x_cm + rock.length_cm / 2, rock.y_cm + rock.width_cm / 2)
        for rock in tank.rocks.present()
    ]
    counts = []
    for noun, places in [*PLACES.collect(tank), ("rock", rocks)]:
        if places:
            x, y = zip(*places, strict=True)
            counts.append((int((scene.rim.inside_cm(x, y) < -SLACK_CM).sum()), noun))
    return [(count, noun) for count, noun in counts if count]


def _outside(tank, axis, end_cm):
    """Return [(count, noun)] of what lies past `end_cm` along one axis."""
    far = end_cm + SLACK_CM
    reach = F(axis) + F(ROCK_SIZES[axis])
    rocks = tank.rocks.present().annotate(reach_cm=reach).filter(reach_cm__gt=far)
    counts = [*BEYOND.collect(tank, axis, far), (rocks.count(), "rock")]
    return [(count, noun) for count, noun in counts if count]


def _listed(counts):
    """Return "2 readings and 1 rock"."""
    words = [f"{count} {noun}{'' if count == 1 else 's'}" for count, noun in counts]
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
