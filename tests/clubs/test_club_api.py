"""Coming in to a club and going out by the API: links, joining, leaving, closing, blocks."""

import pytest
from django.test import Client

from apps.clubs.models import Block, Club, ClubLink, Membership
from apps.surveys.models import Meter
from apps.tanks.models import ShownTank
from apps.tanks.showing.showing import MAP, show
from tests.api.test_clubs import program as api
from tests.api.test_steps import errors
from tests.factories import make_club_meter, make_user
from tests.sharing.test_link_api import program

# The officer of `club` is the owner of `tank`.
ROLES = ("owner", "member", "ex_member", "blocked", "stranger")


def by_role(*statuses):
    return list(zip(ROLES, statuses, strict=True))


def at(club, *rest):
    return "/".join(["/api/v1/clubs", str(club.pk), *map(str, rest), ""])


def make_link(user, club, **said):
    return api(user).post(at(club, "links"), said, format="json")


def join(user, made):
    return api(user).post("/api/v1/clubs/join/", {"address": made.data["address"]})


def is_in(user, club):
    return club.memberships.filter(user=user).exists()


# --- Links ----------------------------------------------------------------------------------
@pytest.mark.parametrize(("who", "status"), by_role(201, 403, 404, 404, 404))
def test_officers_alone_make_links(request, club, who, status):
    user = request.getfixturevalue(who)
    assert make_link(user, club, label="Forum").status_code == status
    assert ClubLink.objects.count() == (status == 201)
    assert api(user).get(at(club, "links")).status_code == {201: 200}.get(status, status)


@pytest.mark.parametrize(("who", "status"), by_role(200, 200, 200, 400, 200))
def test_a_link_lets_in_all_but_the_blocked(request, owner, club, who, status):
    user, made = request.getfixturevalue(who), make_link(owner, club)
    answer = join(user, made)
    assert answer.status_code == status and is_in(user, club) == (status == 200)
    if status == 200:
        role = "officer" if who == "owner" else "member"
        assert (answer.data["id"], answer.data["role"]) == (club.pk, role)


def test_a_blocked_keeper_learns_no_more_than_of_a_wrong_link(owner, club, blocked):
    refused = join(blocked, make_link(owner, club)).json()
    wrong = api(blocked).post("/api/v1/clubs/join/", {"address": "nothing"}).json()
    assert refused == wrong and list(refused["errors"]) == ["address"]


def test_the_address_is_told_once_and_opens_the_page(owner, club):
    made = make_link(owner, club, days=7)
    assert made["Cache-Control"] == "private, no-store"
    address = made.data["address"].removeprefix("http://testserver")
    assert Client().get(address).status_code == 200
    assert api(owner).get(made["Location"]).data["address"] is None


def test_a_revoked_link_lets_nobody_in_and_stays_listed(owner, stranger, club):
    made = make_link(owner, club)
    assert api(owner).delete(made["Location"]).status_code == 204
    assert errors(join(stranger, made)) == ["address"] and not is_in(stranger, club)
    [row] = api(owner).get(at(club, "links")).data["results"]
    assert row["revoked_at"]


@pytest.mark.parametrize("wrong", [{"days": 8}, {"label": "x" * 81}, {"token": "x"}])
def test_a_link_wrongly_described_is_not_made(owner, club, wrong):
    assert errors(make_link(owner, club, **wrong)) == list(wrong)
    assert not ClubLink.objects.exists()


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 201)])
def test_a_token_to_write_makes_links(owner, club, scope, status):
    client = program(owner, scope)
    assert client.post(at(club, "links"), {}).status_code == status


# --- Blocked --------------------------------------------------------------------------------
@pytest.mark.parametrize(("who", "status"), by_role(200, 403, 404, 404, 404))
def test_officers_alone_see_and_lift_blocks(request, club, blocked, who, status):
    client = api(request.getfixturevalue(who))
    listed = client.get(at(club, "blocked"))
    assert listed.status_code == status
    if status == 200:
        [row] = listed.data["results"]
        assert row["keeper"] == {"id": blocked.pk, "name": "Blasius"}
    lifted = client.delete(at(club, "blocked", Block.objects.get().pk))
    assert lifted.status_code == {200: 204}.get(status, status)
    assert Block.objects.exists() == (status != 200)


# --- Leaving and closing --------------------------------------------------------------------
@pytest.mark.parametrize(("who", "status"), by_role(400, 204, 404, 404, 404))
def test_who_is_in_may_leave_but_the_last_officer(request, club, who, status):
    user = request.getfixturevalue(who)
    answer = api(user).post(at(club, "leave"), {}, format="json")
    assert answer.status_code == status
    assert is_in(user, club) == (who == "owner")


def test_what_leaves_with_one_is_said_before(owner, member, tank, club):
    show(tank=tank, club=club, what=MAP)
    said = api(owner).get(at(club, "leaving")).data
    assert said == {
        "is_last_officer": True,
        "going_along": [f"The map of {tank}, which you show"],
    }
    assert api(member).get(at(club, "leaving")).data["is_last_officer"] is False
    assert ShownTank.objects.count() == 1


def test_a_last_officer_leaves_it_to_a_member(owner, member, tank, club):
    show(tank=tank, club=club, what=MAP)
    heir = club.memberships.get(user=member)
    answer = api(owner).post(at(club, "leave"), {"successor": heir.pk}, format="json")
    heir.refresh_from_db()
    assert answer.status_code == 204 and heir.is_officer and not is_in(owner, club)
    assert not ShownTank.objects.exists()


def test_a_member_names_no_officer(member, stranger, club):
    other = Membership.objects.create(club=club, user=stranger)
    answer = api(member).post(at(club, "leave"), {"successor": other.pk}, format="json")
    other.refresh_from_db()
    assert errors(answer) == ["successor"] and not other.is_officer and is_in(member, club)


def test_a_successor_is_another_member(owner, club):
    outside = Membership.objects.create(club=Club.objects.create(name="Other"), user=make_user())
    own = club.memberships.get(user=owner)
    for pk in (outside.pk, own.pk):
        answer = api(owner).post(at(club, "leave"), {"successor": pk}, format="json")
        assert errors(answer) == ["successor"]
    assert is_in(owner, club)


@pytest.mark.parametrize(("who", "status"), by_role(204, 403, 404, 404, 404))
def test_the_last_officer_alone_closes_a_club(request, club, who, status):
    meter = make_club_meter(club)
    answer = api(request.getfixturevalue(who)).post(at(club, "close"))
    club.refresh_from_db()
    assert answer.status_code == status and (club.closed_at is not None) == (status == 204)
    assert (Meter.objects.get(pk=meter.pk).club is None) == (status == 204)


def test_one_of_two_officers_does_not_close_it(owner, member, club):
    club.memberships.filter(user=member).update(role=Membership.Role.OFFICER)
    assert api(owner).post(at(club, "close")).status_code == 403
    assert api(owner).post(at(club, "leave"), {}, format="json").status_code == 204
    assert api(member).post(at(club, "close")).status_code == 204
    assert api(member).get(at(club)).status_code == 404


@pytest.mark.parametrize("act", ["leave", "close"])
@pytest.mark.parametrize("scope", ["read", "share"])
def test_no_token_but_one_to_write_leaves_or_closes(member, owner, club, act, scope):
    user = owner if act == "close" else member
    assert program(user, scope).post(at(club, act), {}).status_code == 403
    assert is_in(user, club)
