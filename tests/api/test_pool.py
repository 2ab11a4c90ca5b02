"""Whether a tank counts among others, by the API: its owner's word alone, and taken back."""

import pytest
from django.urls import reverse

from apps.clubs.leaving import leave
from apps.outcomes.models import ClubPoolShare, PoolShare
from apps.outcomes.pool.agreeing import count_among_others
from tests.api.test_owning import at
from tests.api.test_steps import by_person, errors
from tests.api.test_steps import program as api
from tests.factories import make_club, make_tank, make_user
from tests.sharing.test_link_api import program


@pytest.fixture
def client(owner):
    return api(owner)


@pytest.fixture
def club(owner):
    return make_club(make_user(), owner)


def of_club(club):
    return f"/api/v1/clubs/{club.pk}/pool/"


def counting_there(client, club, *tanks):
    return client.put(of_club(club), {"tanks": [tank.pk for tank in tanks]}, format="json")


# --- Among all others -----------------------------------------------------------------------
@pytest.mark.parametrize(("who", "status"), by_person(200, 403, 403, 404))
def test_the_owner_alone_agrees(request, tank, who, status):
    answer = api(request.getfixturevalue(who)).post(at(tank, "pool"))
    assert answer.status_code == status and PoolShare.objects.count() == (status == 200)


@pytest.mark.parametrize(("who", "status"), by_person(204, 403, 403, 404))
def test_the_owner_alone_stops_agreeing(request, owner, tank, who, status):
    count_among_others(tank=tank, by=owner)
    answer = api(request.getfixturevalue(who)).delete(at(tank, "pool"))
    assert answer.status_code == status and PoolShare.objects.exists() == (status != 204)


@pytest.mark.parametrize(("who", "status"), by_person(200, 200, 200, 404))
def test_who_reads_a_tank_sees_whether_it_counts(request, owner, tank, who, status):
    client = api(request.getfixturevalue(who))
    before = client.get(at(tank, "pool"))
    count_among_others(tank=tank, by=owner)
    after = client.get(at(tank, "pool"))
    assert before.status_code == after.status_code == status
    if status == 200:
        assert before.json() == {"counts": False, "agreed_at": None}
        assert after.json()["counts"] is True and after.json()["agreed_at"]


def test_agreeing_again_changes_nothing(client, tank):
    assert client.post(at(tank, "pool")).json() == client.post(at(tank, "pool")).json()
    assert [client.delete(at(tank, "pool")).status_code for _ in range(2)] == [204, 204]


def test_the_page_says_what_a_program_said(as_user, client, owner, tank):
    page = reverse("pool_detail", args=[tank.pk])
    client.post(at(tank, "pool"))
    assert as_user(owner).get(page).context["shared"]
    client.delete(at(tank, "pool"))
    assert not as_user(owner).get(page).context["shared"]


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 200)])
def test_a_token_to_write_agrees(owner, tank, scope, status):
    assert program(owner, scope).post(at(tank, "pool")).status_code == status


# --- In a club ------------------------------------------------------------------------------
def test_a_member_says_which_of_theirs_count_in_a_club(client, owner, tank, club):
    other = make_tank(owner, name="Other")
    for row in (tank, other):
        count_among_others(tank=row, by=owner)
    said = counting_there(client, club, tank, other).json()
    assert sorted(said["tanks"]) == sorted(said["may_count"]) == [tank.pk, other.pk]
    assert counting_there(client, club, other).json()["tanks"] == [other.pk]
    assert client.get(of_club(club)).json()["tanks"] == [other.pk]
    assert counting_there(client, club).json()["tanks"] == []
    assert not ClubPoolShare.objects.exists() and PoolShare.objects.count() == 2


def test_a_tank_named_twice_counts_once(client, owner, tank, club):
    count_among_others(tank=tank, by=owner)
    assert counting_there(client, club, tank, tank).json()["tanks"] == [tank.pk]


def test_a_tank_that_counts_nowhere_else_counts_in_no_club(client, tank, club):
    assert errors(counting_there(client, club, tank)) == ["tanks"]
    assert client.get(of_club(club)).json() == {"tanks": [], "may_count": []}


def test_nobody_lets_anothers_tank_count(client, co_keeper, owner, tank, club):
    count_among_others(tank=tank, by=owner)
    club.memberships.create(user=co_keeper)
    assert errors(counting_there(api(co_keeper), club, tank)) == ["tanks"]
    assert not ClubPoolShare.objects.exists()


def test_what_one_member_says_leaves_anothers_word_alone(client, owner, tank, club):
    member = make_user()
    club.memberships.create(user=member)
    count_among_others(tank=tank, by=owner)
    counting_there(client, club, tank)
    assert counting_there(api(member), club).json()["tanks"] == []
    assert client.get(of_club(club)).json()["tanks"] == [tank.pk]


def test_who_left_or_never_was_there_says_nothing(client, owner, stranger, club):
    leave(club=club, user=owner)
    for user in (owner, stranger):
        assert api(user).get(of_club(club)).status_code == 404
        assert counting_there(api(user), club).status_code == 404


@pytest.mark.parametrize("wrong", [{"tanks": "all"}, {"tanks": [True]}, {"may_count": [1]}, {}])
def test_a_list_that_is_none_is_refused_at_its_field(client, club, wrong):
    answer = client.put(of_club(club), {"tanks": []} | wrong if wrong else {}, format="json")
    assert errors(answer) == (list(wrong) or ["tanks"])


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 200)])
def test_a_token_to_write_says_what_counts_in_a_club(owner, club, scope, status):
    assert counting_there(program(owner, scope), club).status_code == status
