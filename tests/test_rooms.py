"""Every room of a tank opens for those who may see it and is not there for strangers."""

import pytest
from django.urls import reverse

ROOMS = [
    "light_map", "survey_list", "coral_list", "light_change_list", "tank_plan_list",
    "outcome_list", "share_link_list", "tank_detail",
    "tank_settings", "tank_rooms",
]  # fmt: skip


@pytest.mark.parametrize("room", ROOMS)
def test_room_opens_for_owner(as_user, owner, tank, room):
    assert as_user(owner).get(reverse(room, args=[tank.pk])).status_code == 200


@pytest.mark.parametrize("room", ROOMS)
def test_room_is_not_there_for_stranger(as_user, stranger, tank, room):
    assert as_user(stranger).get(reverse(room, args=[tank.pk])).status_code == 404


@pytest.mark.parametrize("room", ROOMS)
def test_room_asks_a_visitor_to_sign_in(client, tank, room):
    response = client.get(reverse(room, args=[tank.pk]))
    assert response.status_code == 302 and "/accounts/login/" in response["Location"]
