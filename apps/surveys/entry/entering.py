"""What the entry page needs to work on its own: the tank, the points, the bounds, the state."""

from django.urls import reverse

from apps.common.pages_above import page_above
from apps.drawing.contours import band_colours
from apps.photics import limits
from apps.photics.ground.lengths import CM_PER_INCH
from apps.surveys.entry.syncing import state_of

# Colours of the page's first map; more bands than this say more than a first look can.
FIRST_MAP_BANDS = 7


def entry_data(survey, keeper):
    """Return the whole page as plain values; a device keeps them and needs no more to go on."""
    tank = survey.tank
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
        },
        "rocks": [
            {"x": r.x_cm, "y": r.y_cm, "depth": r.depth_cm,
             "length": r.length_cm, "width": r.width_cm, "height": r.height_cm}
            for r in tank.rocks.present()
        ],
        "planned": [
            {"point": str(p.client_id), "number": p.number, "words": p.words,
             "x_cm": p.x_cm, "y_cm": p.y_cm, "depth_cm": p.depth_cm}
            for p in survey.planned_points.all()
        ],
        "points": state_of(survey),
        "limits": {
            "par": survey.value_max,
            "readings": limits.SURVEY_READINGS_MAX,
        },
        "colours": band_colours(FIRST_MAP_BANDS),
        "urls": {
            "enter": reverse("survey_enter", args=[survey.pk]),
            "sync": reverse("survey_sync", args=[survey.pk]),
            "survey": reverse("survey_detail", args=[survey.pk]),
            "map": f"{page_above('light_map', tank.pk)}?survey={survey.pk}",
            "login": reverse("account_login"),
        },
    }  # fmt: skip
