"""A club's tanks taken together: by each owner's word, and never so that few keepers show."""

import re

import pytest
from django.core.management import call_command
from django.urls import reverse

from apps.clubs.leaving import leave
from apps.outcomes.models import ClubPoolShare, PooledCurve, PoolShare
from apps.outcomes.pool.clubs import agree, recompute_clubs
from apps.outcomes.pool.pooling import recompute_pool
from apps.tanks.models import Tank
from tests.factories import make_club, make_tank, make_user
from tests.outcomes.pool.test_pooling import share_of, simulated


@pytest.fixture
def club(owner):
    return make_club(owner)


def join(club, seed, *, counts=True):
    """Add a member with a tank that counts among all, and in the club where they agree."""
    user = make_user()
    club.memberships.create(user=user)
    tank = make_tank(user)
    share_of(tank, simulated(seed))
    if counts:
        agree(club=club, user=user, tanks=[tank])
    return user


def outside(number):
    for seed in range(100, 100 + number):
        share_of(make_tank(), simulated(seed))


def curves(club):
    recompute_pool()
    recompute_clubs()
    return PooledCurve.objects.filter(club=club)


def test_a_clubs_tanks_speak_together_and_say_how_many_keepers(club):
    for seed in range(12):
        join(club, seed)
    outside(12)
    curve = curves(club).get(level="all")
    assert (curve.n_tanks, curve.n_keepers) == (12, 12)
    assert PooledCurve.objects.get(club=None, level="all").n_keepers == 24


def test_who_did_not_agree_does_not_count(club):
    for seed in range(12):
        join(club, seed)
        join(club, 100 + seed, counts=False)
    assert curves(club).get(level="all").n_keepers == 12


def test_four_keepers_are_too_few(club):
    for seed in range(4):
        join(club, seed)
    outside(12)
    assert not curves(club).exists()


@pytest.mark.parametrize(("others", "shown"), [(0, True), (1, False), (4, False), (12, True)])
def test_the_difference_to_all_tanks_shows_nobody(club, others, shown):
    for seed in range(12):
        join(club, seed)
    outside(others)
    assert curves(club).filter(level="all").exists() == shown


def test_the_difference_between_two_clubs_shows_nobody(club):
    other = make_club(make_user())
    for seed in range(12):
        user = join(club, seed)
        other.memberships.create(user=user)
        if seed:
            agree(club=other, user=user, tanks=Tank.objects.owned_by(user))
    outside(12)
    assert curves(club).filter(level="all").exists()
    assert not PooledCurve.objects.filter(club=other, level="all").exists()


def test_who_leaves_the_club_counts_no_more_in_it(club):
    users = [join(club, seed) for seed in range(12)]
    leave(club=club, user=users[0])
    outside(12)
    assert curves(club).get(level="all").n_keepers == 11
    assert PoolShare.objects.filter(tank__owner=users[0]).exists()


def test_the_night_works_both_out(club, capsys):
    call_command("pool_outcomes")
    changed, tanks, curves, of_clubs, *_ = re.findall(r"\d+", capsys.readouterr().out)
    assert (changed, tanks, curves, of_clubs) == ("0", "0", "0", "0")


@pytest.mark.parametrize(("who", "status"), [("owner", 200), ("viewer", 200), ("stranger", 404)])
def test_members_see_the_page_and_nobody_else(request, as_user, club, viewer, who, status):
    club.memberships.create(user=viewer)
    client = as_user(request.getfixturevalue(who))
    assert client.get(reverse("club_outcomes", args=[club.pk])).status_code == status


def test_a_member_lets_their_own_tanks_count_and_takes_them_back(as_user, owner, club, tank):
    PoolShare.objects.create(tank=tank)
    at = reverse("club_outcomes", args=[club.pk])
    as_user(owner).post(at, {"tanks": [tank.pk]})
    assert ClubPoolShare.objects.get().share.tank == tank
    as_user(owner).post(at, {})
    assert not ClubPoolShare.objects.exists()


def test_neither_anothers_tank_nor_one_that_counts_nowhere_is_taken(as_user, owner, club, tank):
    others = PoolShare.objects.create(tank=make_tank()).tank
    for pk in (tank.pk, others.pk):
        sent = as_user(owner).post(reverse("club_outcomes", args=[club.pk]), {"tanks": [pk]})
        assert sent.status_code == 422
    assert not ClubPoolShare.objects.exists()


def test_the_clubs_page_tells_how_many_speak(as_user, owner, club):
    for seed in range(12):
        join(club, seed)
    curves(club)
    page = as_user(owner).get(reverse("club_detail", args=[club.pk]))
    part = next(part for part in page.context["parts"] if part.key == "outcomes")
    assert "12 keepers" in part.lines[0].words
