"""Tanks shown to a club: by the owner's choice alone, read only, and over when it is over."""

import pytest
from django.urls import reverse

from apps.clubs.leaving import close, leave
from apps.tanks.models import ShownTank
from apps.tanks.showing.showing import CORALS, MAP, NOTHING, show, shown_of
from tests.factories import (
    let_in,
    make_club,
    make_coral,
    make_lit_survey,
    make_note,
    make_survey,
    make_tank,
    make_water_event,
)

EVERYONE = ["owner", "member", "ex_member", "blocked", "stranger"]


@pytest.fixture
def shown(tank, club):
    """The owner's tank, measured, with a coral, shown to the club without it."""
    make_survey(tank, light_note="Words about the light", notes="Words of the survey")
    coral = make_coral(tank, name="Tangerine stag")
    make_note(coral, text="Words of a note")
    make_water_event(tank, text="Words of the water log")
    show(tank=tank, club=club, what=MAP)
    return tank


def page_of(tank, club):
    return reverse("club_tank", args=[club.pk, tank.pk])


def switch(tank, club):
    return reverse("tank_show", args=[tank.pk, club.pk])


# --- The switch --------------------------------------------------------------------------------
@pytest.mark.parametrize("what", [MAP, CORALS])
def test_the_owner_shows_a_tank_and_takes_it_back(as_user, owner, member, tank, club, what):
    client, reader = as_user(owner), as_user(member)
    client.post(switch(tank, club), {"what": what})
    assert shown_of(tank, club) == what and reader.get(page_of(tank, club)).status_code == 200
    client.post(switch(tank, club), {"what": NOTHING})
    assert reader.get(page_of(tank, club)).status_code == 404 and not ShownTank.objects.exists()


@pytest.mark.parametrize("what", ["", "everything"])
def test_a_choice_that_is_none_changes_nothing(as_user, owner, tank, club, what):
    as_user(owner).post(switch(tank, club), {"what": what})
    assert shown_of(tank, club) == NOTHING


@pytest.mark.parametrize(("role", "status"), [("co_keeper", 403), ("viewer", 403), (None, 404)])
def test_nobody_else_shows_a_tank(as_user, member, tank, club, role, status):
    if role:
        let_in(tank, member, role)
    assert as_user(member).post(switch(tank, club), {"what": MAP}).status_code == status
    assert as_user(member).get(reverse("tank_clubs", args=[tank.pk])).status_code == status
    assert not ShownTank.objects.exists()


def test_a_tank_is_shown_to_no_club_the_owner_is_not_in(as_user, owner, stranger, tank):
    other = make_club(stranger, name="Another club")
    assert as_user(owner).post(switch(tank, other), {"what": MAP}).status_code == 404
    assert not ShownTank.objects.exists()


def test_the_owner_sees_beside_the_switch_what_members_see(as_user, owner, shown, club):
    page = as_user(owner).get(reverse("tank_clubs", args=[shown.pk])).content.decode()
    assert 'id="what-members-see"' in page and f'id="show-{club.pk}"' in page
    ((_, form),) = as_user(owner).get(reverse("tank_clubs", args=[shown.pk])).context["rows"]
    assert form["what"].value() == MAP


def test_own_tanks_are_listed_with_what_the_club_sees(as_user, owner, member, shown, club):
    make_tank(owner, name="Private cube")
    address = reverse("club_own_tanks", args=[club.pk])
    tanks = as_user(owner).get(address).context["tanks"]
    assert [(tank.name, words) for tank, words in tanks] == [
        ("Harbour cube", "the light map"), ("Private cube", "nothing"),
    ]  # fmt: skip
    assert as_user(member).get(address).context["tanks"] == []


# --- Who reads it ------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ["club_tank", "club_maps", "club_own_tanks"])
def test_members_read_and_nobody_else_does(request, as_user, shown, club, name):
    args = [club.pk, shown.pk] if name == "club_tank" else [club.pk]
    asked = [as_user(request.getfixturevalue(who)) for who in EVERYONE]
    found = [client.get(reverse(name, args=args)).status_code for client in asked]
    assert found == [200, 200, 404, 404, 404]


def test_a_member_is_let_in_to_no_other_page_of_the_tank(as_user, member, shown):
    client = as_user(member)
    for name in ("tank_detail", "light_map", "survey_list", "coral_list", "light_compare"):
        assert client.get(reverse(name, args=[shown.pk])).status_code == 404
    assert client.get(f"/api/v1/tanks/{shown.pk}/").status_code == 404


def test_a_tank_not_shown_is_not_there(as_user, owner, member, shown, club):
    other = make_tank(owner, name="Private cube")
    client = as_user(member)
    assert client.get(page_of(other, club)).status_code == 404
    for name in ("club_detail", "club_maps"):
        assert "Private cube" not in client.get(reverse(name, args=[club.pk])).content.decode()


def test_a_club_sees_nothing_of_what_another_is_shown(as_user, owner, member, shown):
    other = make_club(member, owner, name="Another club")
    client = as_user(member)
    assert client.get(page_of(shown, other)).status_code == 404
    assert shown.name not in client.get(reverse("club_detail", args=[other.pk])).content.decode()


def test_the_page_shows_no_words_and_no_corals_that_were_not_chosen(as_user, member, shown, club):
    page = as_user(member).get(page_of(shown, club)).content.decode()
    assert "Words" not in page and "Tangerine" not in page and "@example.org" not in page


def test_corals_are_shown_where_they_were_chosen_and_lead_nowhere(as_user, member, shown, club):
    show(tank=shown, club=club, what=CORALS)
    page = as_user(member).get(page_of(shown, club)).content.decode()
    assert "Tangerine stag" in page and "/corals/" not in page and "Words" not in page


def test_the_map_is_redrawn_at_another_depth(as_user, member, shown, club):
    answer = as_user(member).get(
        page_of(shown, club), {"depth": "20"}, headers={"hx-request": "true"}
    )
    assert answer.status_code == 200 and "<html" not in answer.content.decode()


# --- When it is over ---------------------------------------------------------------------------
def end(how, tank, club, owner):
    if how == "the owner left":
        club.memberships.exclude(user=owner).update(role="officer")
        leave(club=club, user=owner)
    elif how == "the owner is no member":
        club.memberships.filter(user=owner).delete()
    elif how == "the tank was deleted":
        tank.remove()
    elif how == "the club closed":
        close(club=club, by=owner)


@pytest.mark.parametrize(
    "how",
    ["the owner left", "the owner is no member", "the tank was deleted", "the club closed"],
)
def test_nothing_stays_to_be_seen(as_user, owner, member, shown, club, how):
    client = as_user(member)
    end(how, shown, club, owner)
    assert client.get(page_of(shown, club)).status_code == 404
    for name in ("club_detail", "club_maps"):
        assert shown.name not in client.get(reverse(name, args=[club.pk])).content.decode()


def test_who_comes_back_shows_nothing_by_what_they_chose_before(owner, member, shown, club):
    end("the owner left", shown, club, owner)
    club.memberships.create(user=owner)
    assert not ShownTank.objects.seen_by(member, club).exists()


def test_leaving_says_what_goes_along(as_user, owner, shown, club):
    context = as_user(owner).get(reverse("club_leave", args=[club.pk])).context
    assert len(context["going_along"]) == 1 and shown.name in context["going_along"][0]


def test_a_tank_of_another_owner_is_not_shown_by_the_first_ones_choice(shown, stranger, club):
    shown.owner = stranger
    shown.save()
    assert not ShownTank.objects.in_club(club).exists()


# --- Side by side ------------------------------------------------------------------------------
@pytest.fixture
def two(as_user, owner, member, club):
    """Two tanks of two members, one brighter, and the page that shows both."""
    deep = make_tank(owner, name="Deep", depth_cm=60)
    low = make_tank(member, name="Low", depth_cm=30)
    make_lit_survey(deep, ppf_umol_s=120)
    make_lit_survey(low, ppf_umol_s=240)
    for tank in (deep, low):
        show(tank=tank, club=club, what=MAP)
    return deep, low


def maps(client, club, **asked):
    return client.get(reverse("club_maps", args=[club.pk]), asked)


def test_maps_are_drawn_at_one_depth_on_one_scale(as_user, member, two, club):
    shown = maps(as_user(member), club).context["shown"]
    deep, low = shown.maps
    assert shown.depth_cm == 15 and low.mean_umol > deep.mean_umol > 0
    assert deep.drawing.legend == low.drawing.legend == shown.legend


def test_another_depth_is_dimmer_and_beyond_the_bottom_there_is_none(as_user, member, two, club):
    client = as_user(member)
    before = maps(client, club).context["shown"].maps[0].mean_umol
    deep, low = maps(client, club, depth="40").context["shown"].maps
    assert 0 < deep.mean_umol < before and low.drawing is None and low.why_not


@pytest.mark.parametrize("depth", ["deep", "-1", "9999"])
def test_a_depth_that_is_none_is_refused_at_its_field(as_user, member, two, club, depth):
    answer = maps(as_user(member), club, depth=depth)
    assert answer.status_code == 422 and f'value="{depth}"' in answer.content.decode()


def test_a_tank_without_a_light_is_named(as_user, owner, member, two, club):
    dark = make_tank(owner, name="Unmeasured")
    show(tank=dark, club=club, what=MAP)
    unknown = maps(as_user(member), club).context["shown"].maps[-1]
    assert unknown.showing.tank == dark and unknown.drawing is None


def test_the_club_leads_to_its_tanks(as_user, member, two, club):
    page = as_user(member).get(reverse("club_detail", args=[club.pk])).content.decode()
    assert all(page_of(tank, club) in page for tank in two)
    assert reverse("club_maps", args=[club.pk]) in page
