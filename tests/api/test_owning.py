"""What a tank's owner alone does by the API: end it, reopen it, show it to a club, hand it over."""

import datetime as dt

import pytest
from django.test import Client

from apps.clubs.leaving import leave
from apps.corals.models import Coral
from apps.tanks.models import Invitation, ShownTank, Tank
from apps.tanks.showing.showing import CORALS, MAP, NOTHING, shown_of
from tests.api.test_clubs import queries_of
from tests.api.test_steps import by_person, errors
from tests.api.test_steps import program as api
from tests.factories import make_club, make_coral, make_tank, make_user
from tests.sharing.test_link_api import program
from tests.tanks.test_people import confirm_email


def at(tank, *rest):
    return "/".join(["/api/v1/tanks", str(tank.pk), *map(str, rest), ""])


def end(client, tank, **said):
    return client.post(at(tank, "end"), {"ended_on": str(tank.today())} | said)


def stored(tank):
    return Tank.objects.get(pk=tank.pk)


@pytest.fixture
def client(owner):
    return api(owner)


# --- Its end --------------------------------------------------------------------------------
@pytest.mark.parametrize(("who", "status"), by_person(200, 403, 403, 404))
def test_the_owner_alone_ends_a_tank(request, tank, who, status):
    assert end(api(request.getfixturevalue(who)), tank).status_code == status
    assert stored(tank).ended_on == (tank.today() if status == 200 else None)


@pytest.mark.parametrize(("who", "status"), by_person(200, 403, 403, 404))
def test_the_owner_alone_reopens_it(request, tank, who, status):
    Tank.objects.update(ended_on=tank.today())
    answer = api(request.getfixturevalue(who)).post(at(tank, "reopen"))
    assert answer.status_code == status
    assert (stored(tank).ended_on is None) == (status == 200)


def test_it_answers_with_the_tank_and_may_be_said_again(client, tank):
    first, second = end(client, tank), end(client, tank)
    assert first.data["ended_on"] == str(tank.today()) and first.data == second.data
    assert client.post(at(tank, "reopen")).data["ended_on"] is None


def test_living_corals_move_on_once(client, owner, tank):
    successor, coral = make_tank(owner, name="Next"), make_coral(tank)
    for _ in range(2):
        assert end(client, tank, successor=successor.pk).status_code == 200
    coral.refresh_from_db()
    assert coral.gone_how == Coral.Gone.MOVED and successor.corals.count() == 1


def test_no_coral_moves_to_a_tank_of_somebody_else(client, tank):
    theirs, coral = make_tank(make_user()), make_coral(tank)
    assert errors(end(client, tank, successor=theirs.pk)) == ["successor"]
    coral.refresh_from_db()
    assert stored(tank).ended_on is coral.gone_on is None


@pytest.mark.parametrize(
    ("said", "at_field"),
    [({"ended_on": "2999-01-01"}, "ended_on"), ({"ended_on": "1899-01-01"}, "ended_on"),
     ({"ended_on": ""}, "ended_on"), ({"why": "sold"}, "why")],
)  # fmt: skip
def test_an_end_that_can_not_be_is_refused_at_its_field(client, tank, said, at_field):
    assert errors(end(client, tank, **said)) == [at_field]
    assert stored(tank).ended_on is None


def test_a_tank_that_changed_meanwhile_is_not_ended(client, tank):
    tag = client.get(at(tank))["ETag"]
    client.patch(at(tank), {"name": "Renamed"})
    stale = client.post(at(tank, "end"), {"ended_on": str(tank.today())}, headers={"If-Match": tag})
    assert stale.status_code == 412 and stored(tank).ended_on is None


def test_no_token_but_one_to_write_ends_a_tank(owner, tank):
    answers = {scope: end(program(owner, scope), tank) for scope in ("read", "share", "write")}
    assert [answer.status_code for answer in answers.values()] == [403, 403, 200]


# --- Shown to a club ------------------------------------------------------------------------
@pytest.fixture
def club(owner):
    return make_club(owner, make_user())


@pytest.mark.parametrize(("who", "status"), by_person(200, 403, 403, 404))
def test_the_owner_alone_says_what_a_club_sees(request, tank, club, who, status):
    client = api(request.getfixturevalue(who))
    assert client.get(at(tank, "clubs")).status_code == status
    assert client.patch(at(tank, "clubs", club.pk), {"sees": MAP}).status_code == status
    assert shown_of(tank, club) == (MAP if status == 200 else NOTHING)


@pytest.mark.parametrize("what", [MAP, CORALS])
def test_a_tank_is_shown_and_taken_back(client, tank, club, what):
    address = at(tank, "clubs", club.pk)
    assert client.patch(address, {"sees": what}).data["sees"] == what
    [row] = client.get(at(tank, "clubs")).data["results"]
    assert row == {"id": club.pk, "name": club.name, "sees": what}
    assert client.put(address, {"sees": NOTHING}).data["sees"] == NOTHING
    assert not ShownTank.objects.exists()


@pytest.mark.parametrize("said", [{"sees": "everything"}, {"sees": None}, {"name": "Ours"}])
def test_what_no_club_can_see_is_refused(client, tank, club, said):
    assert errors(client.patch(at(tank, "clubs", club.pk), said)) == list(said)
    assert shown_of(tank, club) == NOTHING


def test_a_club_one_is_not_in_is_not_there(client, owner, tank, club):
    make_club(make_user())
    other = make_club(make_user(), owner)
    leave(club=other, user=owner)
    assert client.patch(at(tank, "clubs", other.pk), {"sees": MAP}).status_code == 404
    assert [row["id"] for row in client.get(at(tank, "clubs")).data["results"]] == [club.pk]


def test_a_token_to_share_shows_a_tank_and_one_to_read_does_not(owner, tank, club):
    address = at(tank, "clubs", club.pk)
    answers = [program(owner, scope).patch(address, {"sees": MAP}) for scope in ("read", "share")]
    assert [answer.status_code for answer in answers] == [403, 200]


def test_many_clubs_take_no_more_queries_than_one(client, owner, tank, club):
    before = queries_of(client, at(tank, "clubs"))
    for _ in range(4):
        make_club(owner)
    assert queries_of(client, at(tank, "clubs")) == before


# --- Handed over ----------------------------------------------------------------------------
@pytest.fixture
def heir(db):
    return make_user(email="heir@example.org", display_name="Hedda")


def offer(client, tank, **said):
    return client.post(at(tank, "hand-overs"), {"email": "heir@example.org"} | said)


@pytest.mark.parametrize(("who", "status"), by_person(201, 403, 403, 404))
def test_the_owner_alone_offers_a_tank(request, tank, who, status):
    client = api(request.getfixturevalue(who))
    assert offer(client, tank).status_code == status
    assert Invitation.objects.filter(hands_over=True).count() == (status == 201)
    assert client.get(at(tank, "hand-overs")).status_code == {201: 200}.get(status, status)


@pytest.mark.parametrize(("stays", "role"), [(True, "co_keeper"), (False, None)])
def test_who_accepts_by_the_address_owns_the_tank(client, owner, heir, tank, stays, role):
    made = offer(client, tank, owner_stays=stays)
    assert made["Cache-Control"] == "private, no-store"
    answer = api(heir).post("/api/v1/invitations/accept-link/", {"address": made.data["address"]})
    assert answer.data["id"] == tank.pk and answer.data["role"] == "owner"
    assert stored(tank).owner == heir
    assert tank.memberships.filter(user=owner).values_list("role", flat=True).first() == role
    assert client.get(at(tank)).status_code == (200 if stays else 404)


def test_an_address_made_by_a_program_opens_the_page(as_user, client, heir, tank):
    address = offer(client, tank).data["address"].removeprefix("http://testserver")
    assert Client().get(address).status_code == 200
    as_user(heir).post(address, {"accept": ""})
    assert stored(tank).owner == heir


def test_an_offer_is_found_by_whom_it_is_for_and_declined(client, owner, heir, tank):
    confirm_email(heir)
    offer(client, tank)
    [row] = api(heir).get("/api/v1/invitations/").data["results"]
    assert (row["tank_name"], row["owner"], row["role"]) == (tank.name, "Ottilie", "owner")
    assert api(heir).post(f"/api/v1/invitations/{row['id']}/decline/").status_code == 204
    assert client.get(at(tank, "hand-overs")).data["results"] == []
    assert stored(tank).owner == owner


def test_an_offer_is_taken_back(client, owner, heir, tank):
    made = offer(client, tank)
    assert client.get(made["Location"]).data["address"] is None
    assert client.delete(made["Location"]).status_code == 204
    answer = api(heir).post("/api/v1/invitations/accept-link/", {"address": made.data["address"]})
    assert errors(answer) == ["address"] and stored(tank).owner == owner


def test_no_token_but_one_to_write_gives_a_tank_away(owner, tank):
    answers = [offer(program(owner, scope), tank) for scope in ("read", "share", "write")]
    assert [answer.status_code for answer in answers] == [403, 403, 201]


def test_a_token_to_share_closes_no_offer_by_a_newer_invitation(client, owner, heir, tank):
    made, shares = offer(client, tank), program(owner, "share")
    body = {"email": "Heir@example.org"}
    assert shares.post(at(tank, "invitations"), body).status_code == 403
    assert Invitation.objects.open_now().get().hands_over
    other = shares.post(at(tank, "invitations"), {"email": "friend@example.org"})
    assert other.status_code == 201
    answer = api(heir).post("/api/v1/invitations/accept-link/", {"address": made.data["address"]})
    assert answer.data["role"] == "owner"


@pytest.mark.parametrize(
    "wrong", [{"email": "nobody"}, {"owner_stays": "perhaps"}, {"role": "viewer"}]
)
def test_an_offer_wrongly_written_is_refused_at_its_field(client, tank, wrong):
    assert errors(offer(client, tank, **wrong)) == list(wrong)
    assert not Invitation.objects.exists()


def test_an_old_offer_is_listed_no_more(client, tank):
    made = offer(client, tank)
    Invitation.objects.update(expires_at=dt.datetime(2026, 1, 1, tzinfo=dt.UTC))
    assert client.get(made["Location"]).status_code == 404
