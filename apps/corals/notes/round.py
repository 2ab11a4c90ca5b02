"""What a device needs to walk through a tank's corals on its own: plain values for JSON."""

from django.db.models import OuterRef, Subquery
from django.urls import reverse

from apps.common.units import format_length
from apps.corals.condition import WELL_FROM, Condition, change_between
from apps.corals.models import HealthNote
from apps.corals.notes.round_taking import states_of_late
from apps.corals.status import corals_with_latest


def round_data(tank, keeper, *, only=None):
    """Return the whole round: living corals from left to right, each with its last condition.

    A page of one coral needs it for that one `only`.
    """
    said = HealthNote.objects.present().filter(coral=OuterRef("pk"), condition__isnull=False)
    newest = said.order_by("-noted_on", "-pk").values("pk")[:1]
    living = corals_with_latest(tank).living().annotate(said_pk=Subquery(newest))
    corals = list(living if only is None else living.filter(pk=only.pk))
    last = HealthNote.objects.in_bulk([coral.said_pk for coral in corals if coral.said_pk])
    today = tank.today()
    places = {coral.pk: coral.spot_on(today) for coral in corals}
    # As one walks along the pane; those without a spot last.
    corals.sort(key=lambda c: (places[c.pk] is None, getattr(places[c.pk], "x_cm", 0), c.name))
    return {
        "pk": tank.pk,
        "keeper": keeper.pk,
        "theme": keeper.theme,
        "name": tank.name,
        "timeZone": tank.time_zone,
        "wellFrom": WELL_FROM,
        "changes": {
            f"{a.value}>{b.value}": change_between(a, b).words for a in Condition for b in Condition
        },
        "corals": [
            coral_data(coral, places[coral.pk], last.get(coral.said_pk), keeper.units)
            for coral in corals
        ],
        # What became meanwhile of the notes that devices made here.
        "noted": states_of_late(tank),
        "urls": round_addresses(tank),
    }


def round_addresses(tank):
    """Return the addresses that the device needs."""
    return {
        "round": reverse("coral_round", args=[tank.pk]),
        "sync": reverse("round_sync", args=[tank.pk]),
        "corals": reverse("coral_list", args=[tank.pk]),
        "login": reverse("account_login"),
    }


def coral_data(coral, spot, last, unit):
    photo = coral.latest_photo_key
    return {
        "pk": coral.pk,
        "name": coral.name,
        "words": coral.group_short() + (f", {place_words(spot, unit)}" if spot else ""),
        "condition": last and last.condition,
        "last": last and f"{last.in_words()}, {last.noted_on:%-d %b %Y}",
        "notedOn": last and last.noted_on.isoformat(),
        "photo": photo and reverse("photo_show", args=[photo, "thumbnail"]),
    }


def place_words(spot, unit):
    x, depth = (format_length(value, unit) for value in (spot.x_cm, spot.depth_cm))
    return f"{x} {unit} from the left, {depth} {unit} deep"
