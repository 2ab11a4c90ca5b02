"""Rocks drawn from above: several at once, standing on the bottom; none is fine too."""

import pytest
from django.urls import reverse

from apps.tanks.forms import ROCKS_DRAWN_MAX

NAMES = ("x_cm", "y_cm", "length_cm", "width_cm", "height_cm")


def url(tank, query=""):
    return reverse("rock_draw", args=[tank.pk]) + query


def drawn(*rocks):
    data = {"form-TOTAL_FORMS": str(len(rocks)), "form-INITIAL_FORMS": "0"}
    for i, rock in enumerate(rocks):
        data |= {f"form-{i}-{n}": str(v) for n, v in zip(NAMES, rock, strict=True)}
    return data


BLANK = ("", "", "", "", "")


def stored(tank):
    names = ("x_cm", "y_cm", "depth_cm", "length_cm", "width_cm", "height_cm")
    return list(tank.rocks.present().values_list(*names))


@pytest.mark.parametrize("who", ["owner", "co_keeper"])
def test_rocks_stand_on_the_bottom(request, as_user, tank, who):
    client = as_user(request.getfixturevalue(who))
    sent = drawn((5, 10, 20, 15, 30), BLANK, (40, 40, "10", 10, "20,5"))
    response = client.post(url(tank), sent)
    assert response["Location"] == reverse("tank_detail", args=[tank.pk])
    # The water is 50 cm deep.
    assert stored(tank) == [(5, 10, 20, 20, 15, 30), (40, 40, 29.5, 10, 10, 20.5)]


def test_none_drawn_is_a_step_skipped(as_user, owner, tank):
    response = as_user(owner).post(url(tank), drawn(BLANK))
    assert response.status_code == 302 and stored(tank) == []


def test_the_settings_are_led_back_to(as_user, owner, tank):
    response = as_user(owner).post(url(tank, "?then=settings"), drawn((1, 1, 9, 9, 9)))
    assert response["Location"] == reverse("tank_settings", args=[tank.pk])


@pytest.mark.parametrize(
    ("rock", "place"),
    [
        ((50, 10, 20, 10, 10), "length_cm"),
        ((5, 55, 10, 10, 10), "width_cm"),
        ((5, 5, 10, 10, 51), "height_cm"),
        ((5, 5, 10, 10, ""), "height_cm"),
        ((-1, 5, 10, 10, 10), "x_cm"),
        ((5, "x", 10, 10, 10), "y_cm"),
        ((5, 5, 0, 10, 10), "length_cm"),
    ],
)
def test_a_rock_that_cannot_be_is_marked_and_none_is_saved(as_user, owner, tank, rock, place):
    response = as_user(owner).post(url(tank), drawn((1, 1, 9, 9, 9), rock))
    assert response.status_code == 422 and stored(tank) == []
    assert list(response.context["rows"].forms[1].errors) == [place]
    assert 'value="9"' in response.content.decode()


def test_more_than_a_page_holds_are_refused(as_user, owner, tank):
    many = [(1, 1, 9, 9, 9)] * (ROCKS_DRAWN_MAX + 1)
    response = as_user(owner).post(url(tank), drawn(*many))
    assert response.status_code == 422 and stored(tank) == []


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_others_draw_nothing(request, as_user, tank, who, status):
    client = as_user(request.getfixturevalue(who))
    assert client.get(url(tank)).status_code == status
    assert client.post(url(tank), drawn((1, 1, 9, 9, 9))).status_code == status
    assert stored(tank) == []
