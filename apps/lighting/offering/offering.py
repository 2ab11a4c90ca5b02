"""Offering lamps to a club, and copying one that is offered."""

from collections.abc import Iterable

from django.db import transaction
from django.db.models import QuerySet

from apps.accounts.models import User
from apps.clubs.models import Club
from apps.lighting.models import Fixture, OfferedFixture, PhotometricFile


@transaction.atomic
def offer(*, club: Club, user: User, fixtures: Iterable[Fixture]) -> None:
    """Let a club copy these of a keeper's lamps, and no other of theirs."""
    mine = OfferedFixture.objects.filter(club=club, fixture__owner=user)
    chosen = {fixture.pk for fixture in fixtures if fixture.owner_id == user.pk}
    mine.exclude(fixture__in=chosen).delete()
    new = chosen - set(mine.values_list("fixture", flat=True))
    OfferedFixture.objects.bulk_create(OfferedFixture(club=club, fixture_id=pk) for pk in new)


@transaction.atomic
def copy_offered(*, offered: OfferedFixture, user: User) -> Fixture:
    """Return a lamp of a keeper's own like one offered, with its photometric file.

    Neither follows the other from then on.
    """
    fixture = Fixture.objects.get(pk=offered.fixture_id)
    measured = PhotometricFile.objects.filter(fixture=fixture).first()
    fixture.pk, fixture.owner = None, user
    fixture._state.adding = True
    fixture.save()
    if measured is not None:
        measured.pk, measured.fixture = None, fixture
        measured._state.adding = True
        measured.save()
    return fixture


def offers_taken_along(user: User, club: Club) -> Iterable[QuerySet]:
    """Yield a keeper's offers to a club: they end when the keeper leaves it."""
    mine = OfferedFixture.objects.filter(club=club, fixture__owner=user)
    yield mine.select_related("fixture")
