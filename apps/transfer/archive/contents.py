"""The rows of a zip: of one tank with what it points to, or a keeper's own that lie in no tank."""

import re
from collections.abc import Mapping

from django.db.models import Model, Q, QuerySet

from apps.accounts.models import User
from apps.common.texts import texts_within
from apps.lighting.models import Fixture, PhotometricFile, RayTable
from apps.planning.models import Plan
from apps.surveys.models import Meter, MeterCheck
from apps.tanks.models import Tank
from apps.transfer.archive.tables import OWN_TABLES, tables

Contents = Mapping[type[Model], QuerySet]

# How a plan names one of its keeper's fixtures.
OWN_FIXTURE = re.compile(r"own:([0-9]{1,18})")


def tank_contents(tank: Tank) -> Contents:
    """Return {model: its rows} of a tank and of what of its keepers' it points to."""
    own = _keepers_own(tank)
    return {
        model: own[model] if model in own else _rows(model).filter(**{way: tank.pk}).distinct()
        for model, way in tables().items()
    }


def own_contents(keeper: User) -> Contents:
    """Return the same of a keeper's library, meters, and plans without a tank."""
    fixtures = _rows(Fixture).filter(owner=keeper)
    chosen = {
        Fixture: fixtures,
        PhotometricFile: _rows(PhotometricFile).filter(fixture__owner=keeper),
        RayTable: _rows(RayTable).filter(
            pk__in=PhotometricFile.objects.filter(fixture__owner=keeper).values("rays")
        ),
        Meter: _rows(Meter).filter(owner=keeper, club=None),
        MeterCheck: _rows(MeterCheck).filter(meter__owner=keeper, meter__club=None),
        Plan: _rows(Plan).filter(owner=keeper, tank=None),
    }
    return {model: chosen[model] for model in tables() if model in OWN_TABLES}


def _keepers_own(tank: Tank) -> Contents:
    # A plan is only words: it opens nobody else's library.
    keepers = Q(owner=tank.owner_id) | Q(owner__plans__tank=tank)
    planned = Q(pk__in=_planned_fixtures(tank)) & keepers
    fixtures = _rows(Fixture).filter(Q(hangings__change__tank=tank) | planned)
    used = _rows(Meter).filter(surveys__tank=tank)
    # A check against a meter that no survey here names is of no use without it.
    checks = _rows(MeterCheck).filter(meter__in=used.values("pk"))
    meters = _rows(Meter).filter(Q(pk__in=used.values("pk")) | Q(pk__in=checks.values("other")))
    files = _rows(PhotometricFile).filter(fixture__in=fixtures.values("pk"))
    rays = Q(hangings__change__tank=tank) | Q(pk__in=files.values("rays"))
    return {
        Fixture: fixtures.distinct(),
        PhotometricFile: files,
        RayTable: _rows(RayTable).filter(rays).distinct(),
        Meter: meters,
        MeterCheck: checks,
    }


def _planned_fixtures(tank: Tank) -> set[int]:
    """Return the keys of the fixtures that plans of a tank were made with."""
    plans = Plan._base_manager.filter(tank=tank)
    texts = (text for row in plans.values_list("asked", "answer", "sent") for text in row)
    named = (OWN_FIXTURE.fullmatch(word) for text in texts for word in texts_within(text))
    return {int(match[1]) for match in named if match}


def _rows(model: type[Model]) -> QuerySet:
    return model._base_manager.all()
