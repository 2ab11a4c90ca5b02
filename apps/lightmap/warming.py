"""Light fields fitted before a keeper waits for them: after a save, and after an upgrade."""

import datetime as dt
import time
from collections.abc import Iterable

from django.db.models import Model
from django.db.models.signals import post_delete, post_save
from django.utils import timezone

from apps.later.kinds import JobKind
from apps.later.queue import is_behind, put_down_once
from apps.later.running import Work
from apps.lighting.models import Fixture, HungFixture, LightChange
from apps.lightmap.lightmap import read_light
from apps.lightmap.survey_map import ready_to_draw
from apps.surveys.models import Survey
from apps.tanks.models import Rock, Tank

WARM = "warm_light"
# A little longer than between two rows of one form; shorter than the way to the map.
WAIT = dt.timedelta(seconds=3)
# Whatever else a map rests on is written along with one of these, in the same transaction; but for
# a meter's stated uncertainty and its checks, which are rarely written: who looks next waits.
RESTED_ON = (Tank, Rock, Survey, LightChange, Fixture)


def warm_fields(tanks: Iterable[Tank], *, seconds: float) -> tuple[int, int]:
    """Fit and keep the light of every survey of the tanks, one after another.

    No tank is begun after so many seconds [s]. Returns how many tanks were gone through and how
    many of their surveys carry a map.
    """
    until, gone_through, mapped = time.monotonic() + seconds, 0, 0
    for tank in tanks:
        if time.monotonic() > until:
            break
        mapped += _warm(tank)
        gone_through += 1
    return gone_through, mapped


def warm_soon(tank_pk: int) -> None:
    """Let a tank's light be fitted behind the pages, once for all that is saved in a row."""
    arguments = {"tank_pk": tank_pk}
    put_down_once(WARM, subject=f"tank {tank_pk}", arguments=arguments, delay=WAIT)


def warm_light(work: Work, *, tank_pk: int) -> None:
    """Fit and keep what a tank's pages ask for, as its rows are now; nothing where it is gone."""
    tank = Tank.objects.present().filter(pk=tank_pk).first()
    if tank is not None:
        _warm(tank)


WARM_KIND = JobKind("Making the light map", warm_light, only_behind=True, stands_back=True)


def _warm(tank: Tank) -> int:
    """Keep the maps of a tank's light now and of its surveys; return how many surveys have one."""
    light = read_light(tank)
    # Asking for a map keeps it. What the light map opens with comes first.
    today = light.map_at(timezone.now())
    if today is not None:
        ready_to_draw(today)
    for survey_map in reversed(light.maps):
        ready_to_draw(survey_map.fitted)
    return sum(survey_map.field is not None for survey_map in light.maps)


def warm_after_saves() -> None:
    """Let the light be fitted anew whenever a row is saved or deleted that it rests on."""
    for model in RESTED_ON:
        post_save.connect(_row_changed, sender=model)
        post_delete.connect(_row_changed, sender=model)


def _row_changed(
    *, instance: Model, raw: bool = False, created: bool = False, **_signal: object
) -> None:
    is_empty = created and isinstance(instance, Tank)
    if raw or is_empty or not is_behind():
        return
    for tank_pk in tanks_of(instance):
        warm_soon(tank_pk)


def tanks_of(row: Model) -> list[int]:
    """Return the keys of the tanks whose light rests on a row of RESTED_ON."""
    if isinstance(row, Fixture):
        hung = HungFixture.objects.filter(fixture_id=row.pk)
        return list(hung.values_list("change__tank", flat=True).distinct().order_by())
    return [row.pk if isinstance(row, Tank) else row.tank_id]
