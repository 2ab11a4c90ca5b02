"""What members read of the tanks that are shown to their club."""

from django.http import Http404
from django.urls import reverse

from apps.accounts.models import User
from apps.clubs.access import readable_club
from apps.clubs.models import Club
from apps.clubs.parts import ClubLine, ClubPart
from apps.lightmap.pins import Pin, pins_for
from apps.tanks.models import ShownTank


def shown_tank(user: User, club_pk: int, tank_pk: int) -> ShownTank:
    """Return the showing of a tank in a club; Http404 for who is not in it, or when taken back."""
    club = readable_club(user, club_pk)
    showing = ShownTank.objects.seen_by(user, club).filter(tank=tank_pk).first()
    if showing is None:
        raise Http404
    return showing


def shown_pins(showing: ShownTank) -> tuple[Pin, ...]:
    """Return the corals that the owner chose to show."""
    return pins_for(showing.tank) if showing.shows_corals else ()


def tanks_part(user: User, club: Club) -> list[ClubPart]:
    """Return the part of a club's page that lists the tanks shown to it."""
    showings = list(ShownTank.objects.seen_by(user, club))
    lines = tuple(
        ClubLine(
            title=showing.tank.name,
            url=reverse("club_tank", args=[club.pk, showing.tank_id]),
            words="yours" if showing.tank.owner_id == user.pk else str(showing.tank.owner),
        )
        for showing in showings
    )
    actions = [("Show a tank of yours", reverse("club_own_tanks", args=[club.pk]))]
    if len(lines) > 1:
        actions.insert(0, ("Maps side by side", reverse("club_maps", args=[club.pk])))
    none_yet = "Nobody shows a tank yet. Yours stay private until you show one."
    return [ClubPart("tanks", "Tanks", lines, none_yet, tuple(actions))]
