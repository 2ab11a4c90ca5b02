"""Two check readings for one coral: at its spot, and near it where a survey read before."""

import datetime as dt

from apps.accounts.models import User
from apps.corals.models import Coral
from apps.surveys.models import Survey
from apps.surveys.plan.patterns import Place
from apps.surveys.plan.starting import start_survey

# A reading nearer to the coral than this is at its spot already [cm].
APART_CM = 3.0


def start_check(*, coral: Coral, by: User, now: dt.datetime) -> Survey | None:
    """Start a survey of now with both readings planned; None without a spot or a survey before."""
    tank = coral.tank
    spot = coral.spot_on(now.astimezone(tank.zone).date())
    last = tank.surveys.present().filter(taken_at__lte=now).exclude(readings=None).newest_first()
    last = last.first()
    if spot is None or last is None:
        return None
    places = [Place(spot.x_cm, spot.y_cm, spot.depth_cm, coral.name)]
    if near := nearest_read(last, places[0]):
        places.append(near)
    return start_survey(tank=tank, places=places, like=last, by=by, now=now)


def nearest_read(survey: Survey, place: Place) -> Place | None:
    """Return the reading of a survey nearest to a place but not at it, None where there is none."""

    def apart_cm(at: tuple[float, float, float]) -> float:
        ends = (place.x_cm, place.y_cm, place.depth_cm)
        return sum((a - b) ** 2 for a, b in zip(at, ends, strict=True)) ** 0.5

    read = survey.readings.values_list("x_cm", "y_cm", "depth_cm")
    beyond = [at for at in read if apart_cm(at) > APART_CM]
    if not beyond:
        return None
    x_cm, y_cm, depth_cm = min(beyond, key=apart_cm)
    return Place(x_cm, y_cm, depth_cm, "read before")
