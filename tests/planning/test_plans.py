"""Saved plans: who sees them, and taking them away."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from apps.planning.models import Plan
from tests.factories import make_acclimation, make_coral, make_plan


def test_the_plans_of_a_tank_are_listed_for_a_viewer(as_user, owner, viewer, tank):
    make_plan(owner, tank, name="Four panels")
    page = as_user(viewer).get(reverse("tank_plan_list", args=[tank.pk]))
    assert "Four panels" in page.content.decode()


def test_a_plan_without_a_tank_is_its_owners_alone(as_user, owner, co_keeper):
    make_plan(owner, name="A tank to come")
    address = reverse("plan_list")
    assert "A tank to come" in as_user(owner).get(address).content.decode()
    assert "A tank to come" not in as_user(co_keeper).get(address).content.decode()


def test_a_plan_of_a_tank_is_hidden_from_strangers(owner, stranger, tank):
    make_plan(owner, tank)
    assert not Plan.objects.visible_to(stranger).exists()


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 302), ("co_keeper", 302), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_take_a_plan_away(request, as_user, owner, tank, reader, status):
    plan = make_plan(owner, tank)
    client = as_user(request.getfixturevalue(reader))
    assert client.post(reverse("plan_remove", args=[plan.pk])).status_code == status


def test_a_plan_taken_away_comes_back(as_user, owner, tank):
    plan = make_plan(owner, tank)
    client = as_user(owner)
    client.post(reverse("plan_remove", args=[plan.pk]))
    assert not Plan.objects.present().exists()
    client.post(reverse("plan_restore", args=[plan.pk]))
    assert Plan.objects.present().get() == plan


@pytest.mark.parametrize(
    "document",
    [[1], {"zones": []}, {"version": 0}, {"version": True}, {"version": 1, "x": float("nan")}],
)
def test_a_document_of_an_unknown_form_is_refused(owner, document):
    plan = Plan(owner=owner, kind=Plan.Kind.LAYOUT, name="Odd", asked=document)
    with pytest.raises(ValidationError) as refused:
        plan.full_clean()
    assert "asked" in refused.value.message_dict


@pytest.mark.parametrize(("who", "sees"), [("owner", True), ("viewer", True), ("stranger", False)])
def test_the_lists_of_plans_tell_of_an_acclimation(request, as_user, tank, who, sees):
    plan = make_acclimation(make_coral(tank))
    client = as_user(request.getfixturevalue(who))
    address = reverse("acclimation_detail", args=[plan.pk])
    page = client.get(reverse("plan_list")).content.decode()
    assert (address in page) == sees and ('class="empty ' in page) == (not sees)
    response = client.get(reverse("tank_plan_list", args=[tank.pk]))
    assert response.status_code == (200 if sees else 404)
    if sees:
        page = response.content.decode()
        assert address in page and 'class="empty ' not in page
