"""What the entry page needs to work on its own: the tank, the points, the bounds, the state."""

from django.urls import reverse

from apps.accounts.models import User
from apps.common.pages_above import page_above
from apps.drawing.legend import PAR_SCALE
from apps.photics import limits
from apps.photics.ground.lengths import CM_PER_INCH
from apps.surveys.entry.syncing import state_of
from apps.surveys.models import PlannedPoint, Survey
from apps.tanks.models import Rock, Tank

# A survey has a map of its own from so many readings on.
MAP_READINGS_MIN = 4


def entry_data(survey: Survey, keeper: User) -> dict[str, object]:
    """Return the whole page as plain values; a device keeps them and needs no more to go on."""
    tank, planned = survey.tank, list(survey.planned_points.all())
    is_mapped = len(planned) >= MAP_READINGS_MIN
    return {
        "pk": survey.pk,
        "keeper": keeper.pk,
        "theme": keeper.theme,
        "unit": keeper.units,
        "cmPerInch": CM_PER_INCH,
        "day": f"{survey.day():%-d %b %Y}",
        "tank": {
            "name": tank.name,
            "length": tank.length_cm,
            "width": tank.width_cm,
            "depth": tank.depth_cm,
            "outline": _outline(tank),
        },
        "rocks": [_rock(rock) for rock in tank.rocks.present()],
        "planned": [_planned(point) for point in planned],
        # Whether a map opens by itself at the end; check readings have a part in the tank's.
        "opensMap": bool(planned) and (is_mapped or _is_mapped_before(survey)),
        "points": state_of(survey),
        "limits": {
            "par": survey.value_max,
            "readings": limits.SURVEY_READINGS_MAX,
        },
        "levels": PAR_SCALE.levels,
        "colours": PAR_SCALE.colours,
        "urls": _addresses(survey, is_mapped=is_mapped),
    }


def _is_mapped_before(survey: Survey) -> bool:
    others = survey.tank.surveys.present().exclude(pk=survey.pk).with_counts()
    return others.filter(reading_count__gte=MAP_READINGS_MIN).exists()


def _outline(tank: Tank) -> list[tuple[float, float]]:
    """Return the corners of the water seen from above [cm], none of a box."""
    scene = tank.scene()
    return [] if scene.is_box else [(round(x, 2), round(y, 2)) for x, y in scene.rim.corners_cm]


def _rock(rock: Rock) -> dict[str, float]:
    return {
        "x": rock.x_cm,
        "y": rock.y_cm,
        "depth": rock.depth_cm,
        "length": rock.length_cm,
        "width": rock.width_cm,
        "height": rock.height_cm,
    }


def _planned(point: PlannedPoint) -> dict[str, object]:
    return {
        "point": str(point.client_id),
        "number": point.number,
        "words": point.words,
        "x_cm": point.x_cm,
        "y_cm": point.y_cm,
        "depth_cm": point.depth_cm,
    }


def _addresses(survey: Survey, *, is_mapped: bool) -> dict[str, str]:
    light_map = page_above("light_map", survey.tank_id)
    return {
        "enter": reverse("survey_enter", args=[survey.pk]),
        "sync": reverse("survey_sync", args=[survey.pk]),
        "survey": reverse("survey_detail", args=[survey.pk]),
        "map": f"{light_map}?survey={survey.pk}" if is_mapped else light_map,
        "login": reverse("account_login"),
    }
