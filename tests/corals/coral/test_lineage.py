"""Where corals come from and go to: colonies and their frags, the gone, and spots taken away."""

import datetime as dt

import pytest
from django.urls import reverse

from apps.corals.models import Coral, Spot
from tests.factories import make_coral, make_tank


@pytest.fixture
def colony(tank):
    return make_coral(tank, name="Mother table", band_low_umol=200, band_high_umol=400)


def form_of(coral, **changed):
    fields = {"name": coral.name, "group": coral.group, "added_on": coral.added_on.isoformat()}
    return fields | changed


def edit(client, coral, **changed):
    return client.post(reverse("coral_edit", args=[coral.pk]), form_of(coral, **changed))


def test_frag_starts_with_what_its_colony_is(as_user, owner, tank, colony):
    url = reverse("coral_new", args=[tank.pk]) + f"?cut_from={colony.pk}"
    form = as_user(owner).get(url).context["form"]
    assert form["name"].value() == "Mother table frag" and form["parent"].value() == colony.pk
    assert form["band_high_umol"].value() == "400"


def test_colony_and_frag_name_each_other(as_user, owner, tank, colony):
    frag = make_coral(tank, name="Small table", parent=colony, since=tank.today())
    client = as_user(owner)
    of_frag = client.get(reverse("coral_detail", args=[frag.pk])).content.decode()
    of_colony = client.get(reverse("coral_detail", args=[colony.pk])).content.decode()
    assert "Cut from" in of_frag and "Mother table" in of_frag
    assert "Frag of it" in of_colony and "Small table" in of_colony


def test_gone_coral_tells_where_to(as_user, owner, tank, colony):
    client, day = as_user(owner), tank.today().isoformat()
    edit(client, colony, gone_on=day, gone_how="given", gone_words="Tjark’s cube")
    page = " ".join(client.get(reverse("coral_list", args=[tank.pk])).content.decode().split())
    colony.refresh_from_db()
    assert f"{colony.get_gone_how_display()}, Tjark’s cube" in page


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"gone_how": "died"}, "on which day it went"),
        ({"gone_words": "eaten"}, "on which day it went"),
        ({"added_on": "0001-01-01"}, "1980 or later"),
        ({"parent": "itself"}, "Select a valid choice"),
    ],
)
def test_unsound_life_is_refused(as_user, owner, colony, changed, said):
    if changed.get("parent"):
        changed = {"parent": colony.pk}
    answer = edit(as_user(owner), colony, **changed)
    assert answer.status_code == 422 and said in answer.content.decode()


def test_frag_is_no_older_than_its_colony_came(as_user, owner, tank, colony):
    early = colony.added_on - dt.timedelta(days=1)
    frag = make_coral(tank, name="Frag", since=early)
    answer = edit(as_user(owner), frag, parent=colony.pk)
    assert answer.status_code == 422 and "came only on" in answer.content.decode()


def test_no_coral_is_its_own_ancestor(as_user, owner, tank, colony):
    frag = make_coral(tank, name="Frag", parent=colony, since=colony.added_on)
    answer = edit(as_user(owner), colony, parent=frag.pk)
    assert answer.status_code == 422 and "its own frag" in answer.content.decode()


def test_colony_of_another_tank_is_not_offered(as_user, owner, colony):
    foreign = make_coral(make_tank(owner), since=colony.added_on)
    assert edit(as_user(owner), colony, parent=foreign.pk).status_code == 422


def test_removed_spot_is_hidden_and_kept(as_user, owner, colony):
    spot = colony.spots.get()
    as_user(owner).post(reverse("spot_remove", args=[spot.pk]))
    assert not colony.spots.exists() and Spot.every.get(pk=spot.pk).removed_at
    coral = Coral.objects.prefetch_related("spots").get(pk=colony.pk)
    assert coral.spot_on(colony.tank.today()) is None


def test_spot_comes_not_back_onto_another_of_its_day(as_user, owner, colony):
    client, spot = as_user(owner), colony.spots.get()
    client.post(reverse("spot_remove", args=[spot.pk]))
    Spot.objects.create(coral=colony, x_cm=1, y_cm=1, depth_cm=1, since=spot.since)
    page = client.post(reverse("spot_restore", args=[spot.pk]), follow=True).content.decode()
    assert "already has a spot" in page and colony.spots.get().x_cm == 1


def test_removed_spot_lets_a_tank_shrink(as_user, owner, tank, colony):
    Spot.objects.filter(coral=colony).update(x_cm=59)
    tank.length_cm = 50
    with pytest.raises(Exception, match="coral spot"):
        tank.full_clean()
    colony.spots.get().remove()
    tank.full_clean()
