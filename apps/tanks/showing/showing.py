"""Showing a tank to a club, and taking it back."""

from collections.abc import Iterable

from django.db.models import Case, CharField, Exists, OuterRef, QuerySet, Value, When

from apps.accounts.models import User
from apps.clubs.models import Club
from apps.tanks.models import ShownTank, Tank

NOTHING, MAP, CORALS = "nothing", "map", "corals"


def shown_of(tank: Tank, club: Club) -> str:
    """Return what of a tank a club sees."""
    row = ShownTank.objects.filter(tank=tank, club=club).first()
    if row is None:
        return NOTHING
    return CORALS if row.shows_corals else MAP


def clubs_with_sight(tank: Tank, user: User) -> QuerySet[Club]:
    """Return a user's clubs, each with what it `sees` of a tank."""
    rows = ShownTank.objects.filter(tank=tank, club=OuterRef("pk"))
    sees = Case(
        When(Exists(rows.filter(shows_corals=True)), then=Value(CORALS)),
        When(Exists(rows), then=Value(MAP)),
        default=Value(NOTHING),
        output_field=CharField(),
    )
    return Club.objects.visible_to(user).annotate(sees=sees)


def show(*, tank: Tank, club: Club, what: str) -> None:
    """Let a club see a part of a tank from now on, or nothing."""
    if what == NOTHING:
        ShownTank.objects.filter(tank=tank, club=club).delete()
        return
    ShownTank.objects.update_or_create(
        tank=tank, club=club, defaults={"shows_corals": what == CORALS}
    )


def tanks_taken_along(user: User, club: Club) -> Iterable[QuerySet]:
    """Yield what of a keeper's tanks goes with them when they leave a club."""
    yield ShownTank.objects.filter(club=club, tank__owner=user).select_related("tank")
