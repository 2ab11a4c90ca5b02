"""Plans an adviser makes for others: people, prices kept, found again, sent, used as a template."""

import pytest
from django.urls import reverse

from apps.planning.models import Plan
from apps.planning.stored_layout import read_question
from tests.factories import make_plan
from tests.planning.layout.test_zones import fields_of_form
from tests.planning.questions import make_layout_plan, posted_box


def test_a_plan_says_for_whom_by_whom_and_when(as_user, owner):
    client = as_user(owner)
    client.post(reverse("layout_new"), posted_box(for_whom="Anna", by_whom="Harbour Aquatics"))
    plan = Plan.objects.get()
    text = client.get(reverse("layout_answer", args=[plan.pk, 1])).content.decode()
    assert "<strong>Anna</strong>" in text and "by Harbour Aquatics" in text
    assert f"{plan.changed_at.year}" in text


def test_a_new_plan_is_by_its_keeper(as_user, owner):
    owner.display_name = "Otti"
    owner.save()
    page = as_user(owner).get(reverse("layout_new"))
    assert page.context["forms"].name["by_whom"].value() == "Otti"


def test_prices_stand_with_the_currency_of_the_account(as_user, owner):
    owner.currency = "EUR"
    owner.save()
    client = as_user(owner)
    client.post(reverse("layout_new"), posted_box())
    text = client.get(reverse("layout_detail", args=[Plan.objects.get().pk])).content.decode()
    assert "200 EUR" in " ".join(text.split())


def test_prices_given_once_begin_the_next_plan(as_user, owner):
    client = as_user(owner)
    client.post(reverse("layout_new"), posted_box())
    forms = client.get(reverse("layout_new")).context["forms"]
    assert forms.candidates.forms[0]["price"].value() == "200"
    assert forms.limits["price_kwh"].value() == "0.3"


def test_prices_of_somebody_else_are_not_used(as_user, owner, stranger):
    as_user(owner).post(reverse("layout_new"), posted_box())
    forms = as_user(stranger).get(reverse("layout_new")).context["forms"]
    assert forms.candidates.forms[0]["price"].value() is None


def test_plans_are_grouped_by_whom_they_are_for(as_user, owner):
    for name, person in (("One", "Zoe"), ("Two", ""), ("Three", "Anna"), ("Four", "Zoe")):
        make_layout_plan(owner, name=name, for_whom=person)
    plans = as_user(owner).get(reverse("plan_list")).context["plans"]
    assert [plan.for_whom for plan in plans] == ["", "Anna", "Zoe", "Zoe"]


@pytest.mark.parametrize("words", ["anna", "ANNA", "sunny wall", "Harb"])
def test_plans_are_found_by_their_words(as_user, owner, words):
    make_layout_plan(owner, name="Hers", for_whom="Anna", notes="The sunny wall", by_whom="Harbour")
    make_layout_plan(owner, name="Another")
    plans = as_user(owner).get(reverse("plan_list"), {"q": words}).context["plans"]
    assert [plan.name for plan in plans] == ["Hers"]


def test_a_search_finds_no_plan_of_a_stranger(as_user, owner, stranger):
    make_layout_plan(owner, name="Hers", for_whom="Anna")
    assert as_user(stranger).get(reverse("plan_list"), {"q": "Anna"}).context["plans"] == []


def test_a_plan_starts_another_that_fits_new_measures(as_user, owner, tank):
    plan = make_layout_plan(owner, tank, for_whom="Anna")
    client = as_user(owner)
    page = client.get(reverse("layout_new"), {"like": plan.pk})
    fields = fields_of_form(page.content.decode())
    fields |= {"again": "stretch", "length_cm": "120"}
    fields |= fields_of_form(client.post(reverse("layout_new"), fields).content.decode())
    client.post(reverse("layout_new"), {k: v for k, v in fields.items() if k != "again"})
    made = Plan.objects.exclude(pk=plan.pk).get()
    question = read_question(made.asked).question
    assert (made.tank, question.tank.length_cm) == (None, 120)
    assert question.zones[0].x_cm == (20, 100)


@pytest.mark.parametrize(
    ("typed", "left"), [({}, ("", "")), ({"x_from": "10", "x_to": "50"}, ("10", "50"))]
)
def test_where_lamps_may_hang_follows_another_tank_unless_it_was_typed(as_user, owner, typed, left):
    client = as_user(owner)
    client.post(reverse("layout_new"), posted_box(**typed))
    page = client.get(reverse("layout_new"), {"like": Plan.objects.get().pk})
    fields = fields_of_form(page.content.decode())
    assert (fields["x_from"], fields["x_to"]) == left
    assert (fields["y_from"], fields["y_to"]) == ("", "")


@pytest.mark.parametrize(("like", "status"), [("1x", 200), ("99999", 404), ("", 200)])
def test_an_odd_plan_to_start_from_is_none(as_user, owner, like, status):
    assert as_user(owner).get(reverse("layout_new"), {"like": like}).status_code == status


def test_a_plan_of_a_stranger_starts_nothing(as_user, owner, stranger):
    plan = make_layout_plan(owner)
    page = as_user(stranger).get(reverse("layout_new"), {"like": plan.pk})
    assert page.status_code == 404


def test_what_changed_since_a_plan_was_sent_is_listed(as_user, owner):
    client = as_user(owner)
    client.post(reverse("layout_new"), posted_box())
    plan = Plan.objects.get()
    detail, day = reverse("layout_detail", args=[plan.pk]), plan.changed_at
    assert client.get(detail).context["changes_since_sent"] is None
    client.post(reverse("layout_sent", args=[plan.pk]))
    assert client.get(detail).context["changes_since_sent"] == []
    assert Plan.objects.get().changed_at == day
    changed = posted_box(length_cm="80", day_hours="8", **{"zone-0-name": "The wall"})
    client.post(reverse("layout_edit", args=[plan.pk]), changed)
    changes = client.get(detail).context["changes_since_sent"]
    facts = ("60 cm → 80 cm", "9 → 8\u00a0h", "“The rock”", "“The wall”")
    assert [sum(fact in change for change in changes) for fact in facts] == [1, 1, 1, 1]
    assert len(changes) == 5


def test_a_plan_that_was_never_searched_can_be_sent(as_user, owner):
    plan = make_plan(owner, None, asked=make_layout_plan(owner).asked)
    as_user(owner).post(reverse("layout_sent", args=[plan.pk]))
    plan.refresh_from_db()
    assert plan.sent_at and plan.sent["recommended"] == ""


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 302), ("co_keeper", 302), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_mark_a_plan_as_sent(request, as_user, owner, tank, reader, status):
    plan = make_layout_plan(owner, tank)
    client = as_user(request.getfixturevalue(reader))
    assert client.post(reverse("layout_sent", args=[plan.pk])).status_code == status


def test_a_letterhead_is_printed_and_kept_for_the_next_plan(as_user, owner):
    client = as_user(owner)
    lines = "Harbour Aquatics\n1 Quay Street"
    client.post(reverse("layout_new"), posted_box(letterhead=lines))
    plan = Plan.objects.get()
    page = client.get(plan.get_absolute_url()).content.decode()
    assert "<br>1 Quay Street</address>" in page
    form = client.get(reverse("layout_new")).context["forms"].name
    assert form["letterhead"].value() == plan.letterhead
    client.post(reverse("plan_duplicate", args=[plan.pk]))
    assert set(Plan.objects.values_list("letterhead", flat=True)) == {plan.letterhead}


def test_a_letterhead_is_nobody_elses(as_user, owner, stranger):
    as_user(owner).post(reverse("layout_new"), posted_box(letterhead="Harbour Aquatics"))
    form = as_user(stranger).get(reverse("layout_new")).context["forms"].name
    assert form["letterhead"].value() == ""
