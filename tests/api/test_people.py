"""The people of a tank by the API: invited, let in, given a role, removed; and their leaving."""

import pytest

from apps.tanks.models import INVITATIONS_OPEN_MAX, Invitation, Membership, Tank
from apps.tanks.people.joining import accept_invitation
from tests.api.test_clubs import queries_of
from tests.api.test_owning import at
from tests.api.test_steps import by_person, errors
from tests.api.test_steps import program as api
from tests.factories import let_in, make_tank, make_user
from tests.sharing.test_link_api import program
from tests.tanks.test_people import confirm_email, role_of

RECEIVED = "/api/v1/invitations/"


@pytest.fixture
def client(owner):
    return api(owner)


@pytest.fixture
def friend(db):
    return make_user(email="friend@example.org", display_name="Fenja")


def invite(client, tank, **said):
    return client.post(at(tank, "invitations"), {"email": "friend@example.org"} | said)


def by_link(user, made, answer="accept"):
    return api(user).post(f"{RECEIVED}{answer}-link/", {"address": made.data["address"]})


def person(tank, user):
    return at(tank, "people", tank.memberships.get(user=user).pk)


# --- Inviting -------------------------------------------------------------------------------
@pytest.mark.parametrize(("who", "status"), by_person(201, 403, 403, 404))
def test_the_owner_alone_invites(request, tank, who, status):
    client = api(request.getfixturevalue(who))
    assert invite(client, tank).status_code == status
    assert Invitation.objects.count() == (status == 201)
    assert client.get(at(tank, "invitations")).status_code == {201: 200}.get(status, status)


@pytest.mark.parametrize("role", ["viewer", "co_keeper"])
def test_who_has_the_address_comes_in_with_the_role(client, friend, tank, role):
    made = invite(client, tank, role=role)
    assert made["Cache-Control"] == "private, no-store"
    answer = by_link(friend, made)
    assert (answer.data["id"], answer.data["role"]) == (tank.pk, role)
    assert role_of(friend, tank) == role


def test_an_address_lets_one_in_once(client, friend, stranger, tank):
    made = invite(client, tank)
    by_link(friend, made)
    assert errors(by_link(stranger, made)) == ["address"] and role_of(stranger, tank) is None


def test_an_answer_that_was_lost_is_given_again_by_its_key(client, friend, tank):
    body, key = {"address": invite(client, tank).data["address"]}, {"Idempotency-Key": "in"}
    answers = [api(friend).post(f"{RECEIVED}accept-link/", body, headers=key) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert answers[0].json() == answers[1].json()


@pytest.mark.parametrize("wrong", ["nothing", "http://[", "https://example.org/", "\x00"])
def test_an_address_that_opens_nothing_is_refused_at_its_field(friend, wrong):
    assert errors(api(friend).post(f"{RECEIVED}accept-link/", {"address": wrong})) == ["address"]


def test_the_token_of_an_address_is_enough(client, friend, tank):
    token = invite(client, tank).data["address"].rstrip("/").rsplit("/", 1)[1]
    assert api(friend).post(f"{RECEIVED}accept-link/", {"address": token}).status_code == 200


def test_a_declined_address_opens_nothing(client, friend, tank):
    made = invite(client, tank)
    assert by_link(friend, made, "decline").status_code == 204
    assert errors(by_link(friend, made)) == ["address"] and role_of(friend, tank) is None


@pytest.mark.parametrize("answer", ["accept", "decline"])
def test_the_owner_answers_no_invitation_of_their_own(client, owner, tank, answer):
    made = invite(client, tank)
    assert errors(by_link(owner, made, answer)) == ["address"]
    assert Invitation.objects.open_now().count() == 1


def test_a_confirmed_email_finds_its_invitation_and_no_other_does(client, friend, stranger, tank):
    invite(client, tank, email="Friend@Example.org")
    assert api(friend).get(RECEIVED).data["results"] == []
    confirm_email(friend)
    confirm_email(stranger)
    [row] = api(friend).get(RECEIVED).data["results"]
    accept = f"{RECEIVED}{row['id']}/accept/"
    assert api(stranger).post(accept).status_code == 404
    assert api(friend).post(accept).data["id"] == tank.pk
    assert role_of(friend, tank) == "viewer" and api(friend).post(accept).status_code == 404


def test_an_invitation_is_taken_back_and_listed_no_more(client, friend, tank):
    made = invite(client, tank)
    [row] = client.get(at(tank, "invitations")).data["results"]
    assert row["email"] == "friend@example.org" and row["address"] is None
    assert client.delete(made["Location"]).status_code == 204
    assert client.get(at(tank, "invitations")).data["results"] == []
    assert errors(by_link(friend, made)) == ["address"]


def test_a_newer_one_to_the_same_email_takes_its_place(client, friend, tank):
    first, second = invite(client, tank), invite(client, tank, email="FRIEND@example.org")
    assert errors(by_link(friend, first)) == ["address"]
    assert by_link(friend, second).status_code == 200


def test_as_many_as_may_be_open_are(client, tank):
    for n in range(INVITATIONS_OPEN_MAX):
        invite(client, tank, email=f"friend{n}@example.org")
    assert errors(invite(client, tank)) == ["non_field_errors"]
    assert Invitation.objects.count() == INVITATIONS_OPEN_MAX


@pytest.mark.parametrize(
    "wrong", [{"email": "nobody"}, {"role": "owner"}, {"hands_over": True}, {"expires_at": None}]
)
def test_an_invitation_wrongly_written_is_refused_at_its_field(client, tank, wrong):
    assert errors(invite(client, tank, **wrong)) == list(wrong)
    assert not Invitation.objects.exists()


def test_an_invitation_of_another_tank_is_not_there(client, owner, tank):
    made = invite(client, make_tank(owner, name="Other")).data
    assert client.delete(at(tank, "invitations", made["id"])).status_code == 404


def test_a_token_to_share_lets_in_viewers_alone(owner, tank):
    client = program(owner, "share")
    assert invite(client, tank, role="co_keeper").status_code == 403
    assert not Invitation.objects.exists()
    made = invite(client, tank)
    assert made.status_code == 201 and Invitation.objects.get().role == "viewer"
    assert client.delete(made["Location"]).status_code == 204


def test_a_token_to_share_closes_no_invitation_of_a_co_keeper(client, owner, friend, tank):
    made, shares = invite(client, tank, role="co_keeper"), program(owner, "share")
    assert invite(shares, tank).status_code == 403
    assert shares.delete(made["Location"]).status_code == 403
    assert by_link(friend, made).data["role"] == "co_keeper"


def test_a_token_to_share_renews_the_invitation_of_a_viewer(client, owner, tank):
    invite(client, tank)
    assert invite(program(owner, "share"), tank).status_code == 201
    assert Invitation.objects.open_now().count() == 1


def test_an_invitation_to_a_tank_that_is_gone_lets_nobody_in(client, friend, tank):
    made = invite(client, tank)
    held = Invitation.objects.get()
    Tank.objects.filter(pk=tank.pk).delete()
    assert accept_invitation(invitation=held, user=friend) is None
    assert errors(by_link(friend, made)) == ["address"]


def test_a_token_to_read_invites_nobody(owner, tank):
    assert invite(program(owner, "read"), tank).status_code == 403


@pytest.mark.parametrize("scope", ["read", "share"])
def test_no_token_but_one_to_write_comes_in_to_a_tank(client, friend, tank, scope):
    body = {"address": invite(client, tank).data["address"]}
    answer = program(friend, scope).post(f"{RECEIVED}accept-link/", body)
    assert answer.status_code == 403 and role_of(friend, tank) is None


# --- The people -----------------------------------------------------------------------------
@pytest.mark.parametrize(("who", "status"), by_person(200, 200, 200, 404))
def test_who_reads_a_tank_sees_its_people(request, tank, viewer, who, status):
    answer = api(request.getfixturevalue(who)).get(at(tank, "people"))
    assert answer.status_code == status
    if status == 200:
        rows = {row["keeper"]["name"]: row["role"] for row in answer.data["results"]}
        assert rows["Vida"] == "viewer" and "example.org" not in answer.content.decode()


def test_many_people_take_no_more_queries_than_one(client, tank, viewer):
    before = queries_of(client, at(tank, "people"))
    for _ in range(4):
        let_in(tank, make_user())
    assert queries_of(client, at(tank, "people")) == before


@pytest.mark.parametrize(("who", "status"), by_person(200, 403, 403, 404))
def test_the_owner_alone_gives_roles(request, tank, viewer, who, status):
    client, address = api(request.getfixturevalue(who)), person(tank, viewer)
    assert client.patch(address, {"role": "co_keeper"}).status_code == status
    assert role_of(viewer, tank) == ("co_keeper" if status == 200 else "viewer")


@pytest.mark.parametrize(("who", "status"), by_person(204, 403, 403, 404))
def test_the_owner_alone_removes_people(request, tank, viewer, who, status):
    client = api(request.getfixturevalue(who))
    assert client.delete(person(tank, viewer)).status_code == status
    assert (role_of(viewer, tank) is None) == (status == 204)


@pytest.mark.parametrize("wrong", [{"role": "owner"}, {"role": None}, {"keeper": 1}, {"tank": 1}])
def test_nothing_but_a_role_is_given(client, tank, viewer, wrong):
    assert errors(client.patch(person(tank, viewer), wrong)) == list(wrong)
    assert role_of(viewer, tank) == "viewer"


def test_a_person_of_another_tank_is_not_there(client, owner, tank, viewer):
    pk = tank.memberships.get().pk
    other = make_tank(owner, name="Other")
    assert client.delete(at(other, "people", pk)).status_code == 404


def test_a_role_given_meanwhile_is_not_given_again(client, tank, viewer):
    address = person(tank, viewer)
    tag = client.get(address)["ETag"]
    client.patch(address, {"role": "co_keeper"})
    stale = client.delete(address, headers={"If-Match": tag})
    assert stale.status_code == 412 and role_of(viewer, tank) == "co_keeper"


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 204)])
def test_a_token_to_share_puts_nobody_out(owner, tank, viewer, scope, status):
    assert program(owner, scope).delete(person(tank, viewer)).status_code == status


# --- Leaving --------------------------------------------------------------------------------
@pytest.mark.parametrize(("who", "status"), by_person(404, 204, 204, 404))
def test_those_let_in_may_leave(request, tank, who, status):
    user = request.getfixturevalue(who)
    assert api(user).post(at(tank, "leave")).status_code == status
    assert not Membership.objects.filter(user=user).exists()
    assert api(user).get(at(tank)).status_code == (200 if who == "owner" else 404)
