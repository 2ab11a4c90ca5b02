"""Places for the plan of a survey that the light map knows: the corals', and the most telling."""

from apps.lighting.history import light_history
from apps.lightmap.pins import pins_for
from apps.lightmap.survey_map import fit_survey, surveys_for_fitting
from apps.photics.field.next_points import next_points
from apps.surveys.plan.patterns import Place
from apps.tanks.models import Tank


def coral_places(tank: Tank) -> list[Place]:
    """Return the place of every pin [cm]: the light at the corals themselves."""
    return [Place(p.x_cm, p.y_cm, p.depth_cm, p.name[:80]) for p in pins_for(tank)]


def telling_places(tank: Tank, count: int) -> list[Place]:
    """Return the places whose readings would make the last map surest, the most telling first.

    None where no survey of the tank carries a map yet.
    """
    history = light_history(tank)
    for survey in reversed(surveys_for_fitting(tank)):
        field = fit_survey(survey, history).field
        if field is not None:
            spots_cm = [(p.x_cm, p.y_cm, p.depth_cm) for p in pins_for(tank)] or None
            places = next_points(field, count, spots_cm=spots_cm)
            return [Place(float(x), float(y), float(depth)) for x, y, depth in places]
    return []
