"""A tank's end: history stays, reminders stop, corals may move on; who may."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import Coral
from apps.tanks.models import Tank
from apps.tanks.reminding import reminders_of
from tests.factories import make_coral, make_meter, make_survey, make_tank


def url(name, tank):
    return reverse(name, args=[tank.pk])


def end(client, tank, **fields):
    return client.post(url("tank_end", tank), {"ended_on": str(tank.today())} | fields)


@pytest.fixture
def next_tank(owner):
    return make_tank(owner, name="Next tank")


def test_an_ended_tank_is_listed_apart_and_stays_readable(as_user, owner, viewer, tank):
    survey = make_survey(tank)
    end(as_user(owner), tank)
    tank.refresh_from_db()
    assert tank.ended_on == tank.today()
    listed = as_user(owner).get(reverse("tank_list")).context
    assert (listed["running"], listed["past"]) == ([], [tank])
    for client in (as_user(owner), as_user(viewer)):
        assert client.get(url("tank_detail", tank)).status_code == 200
        assert client.get(reverse("survey_detail", args=[survey.pk])).status_code == 200
        assert client.get(url("light_map", tank)).status_code == 200


def test_it_reminds_of_nothing_and_begins_nothing(as_user, owner, tank):
    long_ago = timezone.now() - dt.timedelta(days=800)
    make_survey(tank, taken_at=long_ago, meter=make_meter(owner))
    assert reminders_of(tank, timezone.now())
    end(as_user(owner), tank)
    context = as_user(owner).get(url("tank_detail", tank)).context
    assert (context["reminders"], context["due"], context["beginning"]) == ([], [], None)
    as_user(owner).post(url("tank_reopen", tank))
    context = as_user(owner).get(url("tank_detail", tank)).context
    assert context["reminders"] and context["beginning"] is not None


def test_living_corals_move_on_and_keep_their_history(as_user, owner, tank, next_tank):
    living = make_coral(tank, name="Green branch", band_low_umol=90, band_high_umol=210)
    make_coral(tank, name="Gone", gone_on=tank.today(), gone_how=Coral.Gone.DIED)
    end(as_user(owner), tank, successor=next_tank.pk)
    living.refresh_from_db()
    assert (living.gone_on, living.gone_how) == (tank.today(), Coral.Gone.MOVED)
    begun = next_tank.corals.get()
    assert (begun.name, begun.group, begun.added_on) == ("Green branch", "sps", tank.today())
    assert (begun.band_low_umol, begun.band_high_umol) == (90, 210) and not begun.spots.exists()
    assert living.spots.count() == 1


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"ended_on": "2999-01-01"}, "ended_on"),
        ({"ended_on": "1001-01-01"}, "ended_on"),
        ({"ended_on": ""}, "ended_on"),
        ({"successor": "999999"}, "successor"),
    ],
)
def test_what_cannot_be_ends_nothing(as_user, owner, tank, fields, place):
    coral = make_coral(tank)
    response = end(as_user(owner), tank, **fields)
    assert response.status_code == 422 and list(response.context["form"].errors) == [place]
    tank.refresh_from_db()
    coral.refresh_from_db()
    assert tank.ended_on is None and coral.gone_on is None


def test_corals_move_to_no_strangers_tank(as_user, owner, stranger, tank):
    foreign = make_tank(stranger)
    make_coral(tank)
    assert end(as_user(owner), tank, successor=foreign.pk).status_code == 422
    assert not foreign.corals.exists()


@pytest.mark.parametrize(
    ("who", "status"), [("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
@pytest.mark.parametrize("name", ["tank_end", "tank_reopen"])
def test_only_the_owner_ends_a_tank(request, as_user, tank, name, who, status):
    client = as_user(request.getfixturevalue(who))
    assert client.post(url(name, tank), {"ended_on": str(tank.today())}).status_code == status
    assert Tank.objects.get(pk=tank.pk).ended_on is None
