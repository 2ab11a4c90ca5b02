"""Texts that hide a character or turn a line around: refused alike by form, API and import."""

import json

import pytest
from django.urls import reverse

from apps.accounts.models import User
from apps.common.texts import hidden_character, is_visible
from apps.corals.models import Coral

# As names: what hides in each, none where all of it is merely unseen.
HIDDEN = {
    "\u202eCream": "202E",
    "Cr\u200beam": "200B",
    "\u2066Cream\u2069": "2066",
    "Cre\u200dam": "200D",
    "Cream\u2060": "2060",
}
UNSEEN = ["\u3164", "\u2800\u2800", "\u00ad", "\u200e\u200f"]
HONEST = [
    "Cream",
    "می\u200cخواهم",
    "क\u094d\u200dष",
    "\U0001f468\u200d\U0001f469\u200d\U0001f467",
    "\U0001f3f3\ufe0f\u200d\U0001f308",
    "\u05e9\u05dc\u05d5\u05dd\u200f (3)",
]
DAY = "2026-05-01"


def by_form(client, tank, name):
    body = {"name": name, "group": "sps", "added_on": DAY}
    return client.post(reverse("coral_new", args=[tank.pk]), body)


def by_api(client, tank, name):
    body = json.dumps({"name": name, "group": "sps", "added_on": DAY})
    address = f"/api/v1/tanks/{tank.pk}/corals/"
    return client.post(address, body, content_type="application/json")


def by_import(client, tank, name):
    body = {"text": f"{name}; sps", "added_on": DAY, "unit": "cm"}
    return client.post(reverse("coral_many", args=[tank.pk]), body)


WAYS = [by_form, by_api, by_import]


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", HIDDEN, ids=ascii)
def test_a_hidden_character_is_refused_by_its_number(as_user, owner, tank, name, way):
    answer = way(as_user(owner), tank, name)
    assert f"U+{HIDDEN[name]}" in answer.content.decode()
    assert not Coral.objects.exists()


@pytest.mark.parametrize(("way", "status"), [(by_form, 422), (by_api, 400), (by_import, 422)])
def test_a_control_character_is_refused(as_user, owner, tank, way, status):
    # A pasted table with one is no text at all to the import, which says so before it reads a row.
    assert way(as_user(owner), tank, "Cr\x07eam").status_code == status
    assert not Coral.objects.exists()


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", UNSEEN, ids=ascii)
def test_a_name_has_something_to_see(as_user, owner, tank, name, way):
    answer = way(as_user(owner), tank, name)
    assert "can be seen" in answer.content.decode()
    assert not Coral.objects.exists()


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", HONEST, ids=ascii)
def test_joiners_that_shape_a_script_or_an_emoji_are_kept(as_user, owner, tank, name, way):
    way(as_user(owner), tank, name)
    assert Coral.objects.get().name == name


def test_a_note_of_several_lines_hides_nothing():
    assert hidden_character("one\r\ntwo\tthree") is None


def test_what_is_drawn_as_nothing_is_no_letter():
    assert is_visible("a") and not is_visible("\u3164 \u00ad")


@pytest.mark.django_db
def test_no_hidden_name_signs_up(client):
    body = {"email": "new@example.org", "password1": "Long enough 4 that", "units": "cm"}
    answer = client.post(reverse("account_signup"), body | {"display_name": "\u202eeman"})
    assert "display_name" in answer.context["form"].errors
    assert not User.objects.exists()
