"""Tanks: list, new, change, take away; owner, co-keeper, viewer and stranger."""

import pytest
from django.urls import reverse

from apps.accounts.models import User
from apps.corals.models import Coral, Spot
from apps.tanks.models import Tank
from tests.factories import make_coral, make_rock, make_survey, make_tank, make_user

pytestmark = pytest.mark.django_db

GOOD = {
    "name": "Window tank",
    "length_cm": "90",
    "width_cm": "45,5",
    "depth_cm": "50",
    "back_pane": "dark",
    "bottom": "bare",
    "time_zone": "Europe/Berlin",
}


def url(name, tank):
    return reverse(name, args=[tank.pk])


def change(client, tank, **fields):
    same = {"name": tank.name, "length_cm": "60", "width_cm": "60", "depth_cm": "50"}
    more = {"back_pane": "clear", "bottom": "sand", "time_zone": "UTC"}
    return client.post(url("tank_edit", tank), same | more | fields)


def test_new_tank_belongs_to_its_maker(as_user, owner):
    as_user(owner).post(reverse("tank_new"), GOOD)
    tank = Tank.objects.get(name="Window tank")
    assert (tank.owner, tank.width_cm) == (owner, 45.5)


def test_new_tank_starts_in_the_keepers_time_zone(as_user):
    user = make_user(time_zone="Asia/Tokyo")
    assert b'value="Asia/Tokyo"' in as_user(user).get(reverse("tank_new")).content


def test_measures_are_typed_in_the_keepers_unit(as_user):
    as_user(make_user(units="in")).post(reverse("tank_new"), GOOD | {"length_cm": "24"})
    assert Tank.objects.get().length_cm == pytest.approx(60.96)


def test_a_written_unit_wins(as_user, owner):
    as_user(owner).post(reverse("tank_new"), GOOD | {"length_cm": "24 in", "depth_cm": "0.5 m"})
    tank = Tank.objects.get(owner=owner)
    assert (tank.length_cm, tank.depth_cm) == (pytest.approx(60.96), 50)


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        ("length_cm", "long", "is not a number"),
        ("length_cm", "5", "Between 10 and 1000 cm"),
        ("depth_cm", "1,200", "can mean"),
        ("time_zone", "Mars/Olympus", "is not a time zone"),
        ("back_pane", "pink", "not one of the available choices"),
        ("name", "", "required"),
    ],
)
def test_bad_tank_is_refused_with_what_was_typed(as_user, owner, field, typed, told):
    response = as_user(owner).post(reverse("tank_new"), GOOD | {field: typed})
    page = response.content.decode()
    assert response.status_code == 422 and told in page
    assert field in ("back_pane", "name") or f'value="{typed}"' in page


def test_bounds_are_told_in_the_keepers_unit(as_user):
    client = as_user(make_user(units="in"))
    response = client.post(reverse("tank_new"), GOOD | {"length_cm": "2"})
    assert "Between 3 15/16 and 393.7 in" in response.content.decode()


def test_list_shows_own_and_shared_tanks_with_the_role(as_user, viewer, tank):
    make_tank(viewer, name="Own cube")
    page = as_user(viewer).get(reverse("tank_list"))
    shown = {one.name: one.reader_words() for one in page.context["running"]}
    assert shown.keys() == {"Own cube", tank.name} and "Ottilie" in shown[tank.name]
    assert all(words in page.content.decode() for words in shown.values())


def test_list_hides_others_tanks(as_user, stranger, tank):
    assert tank.name not in as_user(stranger).get(reverse("tank_list")).content.decode()


def test_list_takes_few_queries_for_many_tanks(as_user, owner, django_assert_max_num_queries):
    for n in range(30):
        make_tank(owner, name=f"Tank {n}")
    client = as_user(owner)
    with django_assert_max_num_queries(6):
        client.get(reverse("tank_list"))


def test_tank_page_tells_the_box_in_the_readers_unit(as_user, tank):
    viewer = make_user(units="in")
    tank.memberships.create(user=viewer)
    assert "23 5/8 ×" in as_user(viewer).get(url("tank_settings", tank)).content.decode()


def test_tank_page_never_tells_an_email(as_user, viewer, co_keeper, tank):
    page = as_user(viewer).get(url("tank_settings", tank)).content.decode()
    assert "Cornelis" in page and "owner@" not in page and "cokeeper@" not in page


def test_tank_page_offers_a_viewer_nothing_to_change(as_user, viewer, tank):
    make_rock(tank)
    page = as_user(viewer).get(url("tank_settings", tank)).content.decode()
    assert url("tank_edit", tank) not in page and url("rock_new", tank) not in page


def test_co_keeper_may_change_the_box(as_user, co_keeper, tank):
    change(as_user(co_keeper), tank, name="Renamed")
    tank.refresh_from_db()
    assert (tank.name, tank.owner.display_name) == ("Renamed", "Ottilie")


def test_viewer_may_not_change_the_box(as_user, viewer, tank):
    assert change(as_user(viewer), tank, name="Mine").status_code == 403


def test_stranger_finds_no_box_to_change(as_user, stranger, tank):
    assert change(as_user(stranger), tank).status_code == 404


def test_refused_change_leaves_the_stored_name_in_the_navigation(as_user, owner, tank):
    page = change(as_user(owner), tank, name="Typed", length_cm="x").content.decode()
    assert f'<p class="rooms__tank">{tank.name}</p>' in page and 'value="Typed"' in page


def test_measures_left_alone_stay_exact(as_user):
    """33.3 cm shows as 13.1 in; saving the page unchanged must not make it 33.27 cm."""
    owner = make_user(units="in")
    tank = make_tank(owner, length_cm=33.3)
    fields = {"length_cm": "13.1", "width_cm": "23.6", "depth_cm": "19.7"}
    change(as_user(owner), tank, name="New name", **fields)
    tank.refresh_from_db()
    assert (tank.name, tank.length_cm, tank.depth_cm) == ("New name", 33.3, 50)


# A box never shrinks below what stands in it.


@pytest.mark.parametrize("side", ["length_cm", "width_cm", "depth_cm"])
def test_box_does_not_shrink_below_a_reading(as_user, owner, tank, side):
    make_survey(tank, readings=[(48, 48, 48, 100)])
    response = change(as_user(owner), tank, **{side: "40"})
    (problem,) = response.context["form"].errors[side]
    assert response.status_code == 422 and "1 reading" in problem
    tank.refresh_from_db()
    assert getattr(tank, side) > 40


def test_box_does_not_shrink_below_corals_and_rocks(as_user, owner, tank):
    make_coral(tank, at_cm=(50, 10, 10))
    make_rock(tank, x_cm=35, length_cm=20)
    response = change(as_user(owner), tank, length_cm="45")
    (problem,) = response.context["form"].errors["length_cm"]
    assert "1 coral spot and 1 rock" in problem


def test_box_may_shrink_to_what_fits(as_user, owner, tank):
    make_survey(tank, readings=[(48, 48, 48, 100)])
    change(as_user(owner), tank, length_cm="48")
    tank.refresh_from_db()
    assert tank.length_cm == 48


def test_box_may_shrink_past_what_was_taken_away(as_user, owner, tank):
    make_survey(tank, readings=[(48, 48, 48, 100)]).remove()
    change(as_user(owner), tank, length_cm="40")
    tank.refresh_from_db()
    assert tank.length_cm == 40


def test_a_new_name_is_not_refused_for_old_readings_outside(as_user, owner, tank):
    make_survey(tank, readings=[(70, 10, 10, 100)])
    change(as_user(owner), tank, name="Renamed")
    tank.refresh_from_db()
    assert tank.name == "Renamed"


# Taking away.


def test_removed_tank_is_gone_for_all(as_user, owner, viewer, tank):
    as_user(owner).post(url("tank_remove", tank))
    assert as_user(viewer).get(url("tank_detail", tank)).status_code == 404


def test_removed_tank_comes_back_by_undo(as_user, owner, tank):
    client = as_user(owner)
    page = client.post(url("tank_remove", tank), follow=True).content.decode()
    assert url("tank_restore", tank) in page
    client.post(url("tank_restore", tank))
    assert client.get(url("tank_detail", tank)).status_code == 200


@pytest.mark.parametrize(
    ("who", "status"), [("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
def test_only_the_owner_takes_a_tank_away(request, as_user, tank, who, status):
    client = as_user(request.getfixturevalue(who))
    assert client.post(url("tank_remove", tank)).status_code == status


@pytest.mark.parametrize("who", ["co_keeper", "stranger"])
def test_only_the_owner_brings_a_tank_back(request, as_user, tank, who):
    user = request.getfixturevalue(who)
    tank.remove()
    assert as_user(user).post(url("tank_restore", tank)).status_code == 404


def test_a_tank_goes_only_after_a_question_that_tells_what_goes_along(as_user, owner, tank):
    make_survey(tank, readings=[(10, 10, 10, 100), (20, 10, 10, 90)])
    page = as_user(owner).get(url("tank_remove", tank))
    assert {(1, "survey"), (2, "readings")} <= set(page.context["contents"])
    assert not Tank.objects.get(pk=tank.pk).removed_at
    detail = as_user(owner).get(url("tank_settings", tank)).content.decode()
    assert f'href="{url("tank_remove", tank)}"' in detail


def test_box_may_shrink_past_where_corals_were(as_user, owner, tank):
    gone = make_coral(tank, at_cm=(50, 10, 10))
    Coral.objects.filter(pk=gone.pk).update(gone_on=tank.today())
    moved = make_coral(tank, at_cm=(50, 10, 10))
    Spot.objects.create(coral=moved, x_cm=20, y_cm=10, depth_cm=10, since=tank.today())
    change(as_user(owner), tank, length_cm="45")
    tank.refresh_from_db()
    assert tank.length_cm == 45


@pytest.mark.parametrize(
    ("role", "words"),
    [
        ("owner", "Your tank"),
        ("co_keeper", "Ann’s tank; you keep it too"),
        ("viewer", "Ann’s tank; you may look"),
    ],
)
def test_list_says_whose_tank_it_is(role, words):
    tank = Tank(owner=User(display_name="Ann"))
    tank.role_of_reader = role
    assert tank.reader_words() == words
