"""Rocks as boxes: in the water, in the keeper's unit, taken away and brought back."""

import pytest
from django.db import IntegrityError
from django.urls import reverse

from tests.factories import make_rock, make_tank, make_user

pytestmark = pytest.mark.django_db

GOOD = {
    "name": "left island", "x_cm": "5", "y_cm": "10", "depth_cm": "30",
    "length_cm": "20", "width_cm": "15", "height_cm": "20",
}  # fmt: skip


def add(client, tank, **fields):
    return client.post(reverse("rock_new", args=[tank.pk]), GOOD | fields)


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 302), ("co_keeper", 302), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_add_a_rock(request, as_user, tank, who, status):
    response = add(as_user(request.getfixturevalue(who)), tank)
    assert response.status_code == status and tank.rocks.count() == (status == 302)


def test_rock_is_typed_in_inches(as_user):
    owner = make_user(units="in")
    tank = make_tank(owner)
    add(as_user(owner), tank, x_cm="2", y_cm="4", depth_cm="8", length_cm="4", height_cm="11")
    rock = tank.rocks.get()
    assert (rock.x_cm, rock.depth_cm) == (pytest.approx(5.08), pytest.approx(20.32))


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        ("x_cm", "70", ""),
        ("length_cm", "56", "55 cm"),
        ("height_cm", "21", "20 cm"),
        ("width_cm", "200", "cm"),
        ("width_cm", "0", "0.5"),
        ("y_cm", "deep", "“deep”"),
    ],
)
def test_rock_outside_the_water_is_refused_at_its_field(as_user, owner, tank, field, typed, told):
    response = add(as_user(owner), tank, **{field: typed})
    page = response.content.decode()
    error = page.split(f'id="id_{field}_error">')[1].split("</p>")[0]
    assert response.status_code == 422 and told in error and not tank.rocks.exists()
    # One mistake is told once.
    assert page.count('_error">') == 1


def test_rock_outside_is_told_in_the_keepers_unit(as_user):
    owner = make_user(units="in")
    fields = {"x_cm": "2", "y_cm": "4", "depth_cm": "8", "length_cm": "40", "width_cm": "4"}
    page = add(as_user(owner), make_tank(owner), **fields, height_cm="8").content.decode()
    assert "21 5/8 in" in page


def test_rock_is_changed(as_user, co_keeper, tank):
    rock = make_rock(tank)
    as_user(co_keeper).post(reverse("rock_edit", args=[tank.pk, rock.pk]), GOOD)
    rock.refresh_from_db()
    assert (rock.name, rock.x_cm) == ("left island", 5)


def test_rock_of_another_tank_is_not_found(as_user, owner, tank):
    rock = make_rock(make_tank())
    assert as_user(owner).get(reverse("rock_edit", args=[tank.pk, rock.pk])).status_code == 404


def test_removed_rock_throws_no_shade_and_comes_back(as_user, owner, tank):
    rock = make_rock(tank)
    client = as_user(owner)
    client.post(reverse("rock_remove", args=[tank.pk, rock.pk]))
    assert tank.scene_rocks() == ()
    client.post(reverse("rock_restore", args=[tank.pk, rock.pk]))
    assert len(tank.scene_rocks()) == 1


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
@pytest.mark.parametrize("name", ["rock_edit", "rock_remove", "rock_restore"])
def test_rock_is_safe_from_those_who_may_not_write(request, as_user, tank, name, who, status):
    rock = make_rock(tank)
    client = as_user(request.getfixturevalue(who))
    assert client.post(reverse(name, args=[tank.pk, rock.pk]), GOOD).status_code == status


def test_plan_has_the_front_at_its_foot(as_user, owner, tank):
    """A rock at the front pane lies lower in the drawing than one at the back."""
    from apps.tanks.plan import tank_plan

    front, back = make_rock(tank, y_cm=0), make_rock(tank, y_cm=40)
    plan = tank_plan(tank, [front, back])
    assert plan.rocks[0].y > plan.rocks[1].y


def test_plan_keeps_the_shape_of_the_tank():
    from apps.tanks.models import Tank
    from apps.tanks.plan import tank_plan

    plan = tank_plan(Tank(length_cm=240, width_cm=60, depth_cm=50), [])
    # The drawing rounds to 0.1 of its units.
    assert plan.box_wide / plan.box_high == pytest.approx(4, rel=0.01)


def test_rock_that_no_longer_fits_is_not_brought_back(as_user, owner, tank):
    rock = make_rock(tank, depth_cm=30, height_cm=20)
    rock.remove()
    tank.depth_cm = 35
    tank.save()
    url = reverse("rock_restore", args=[tank.pk, rock.pk])
    page = as_user(owner).post(url, follow=True)
    rock.refresh_from_db()
    (message,) = page.context["messages"]
    assert rock.removed_at and "5 cm" in str(message)


@pytest.mark.parametrize("change", [{"length_cm": 0.4}, {"x_cm": -1}, {"height_cm": 301}])
def test_database_itself_refuses_an_impossible_rock(tank, change):
    with pytest.raises(IntegrityError):
        make_rock(tank, **change)
