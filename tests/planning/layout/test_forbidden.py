"""Which limit keeps a fixture from hanging, and by how much."""

import re
from dataclasses import replace
from functools import partial

import pytest
from django.urls import reverse

from apps.common.units import format_length
from apps.photics.layout.answers import Answer
from apps.photics.layout.hanging import HungKind, Layout
from apps.photics.layout.question import Candidate
from apps.photics.rig.fixture_light import output_estimate
from apps.planning.layout.buying import Purchase, purchases
from apps.planning.layout.forbidden import forbidding
from apps.planning.layout.searching import searched_plan
from apps.planning.stored_layout import StoredQuestion, write_question
from tests.factories import make_plan
from tests.planning.layout.test_hanging import answered
from tests.planning.questions import make_layout_plan, posted, small_question

TUBE = Candidate("Tubes", "tube", 85.0, 12.0, (120.0,), output_estimate(ppf_umol_s=60), 78.0)


def why(question):
    return forbidding(question, partial(format_length, unit="cm"))


def numbers(sentence):
    return re.findall(r"\d+(?:\.\d+)?", sentence)


def with_tube(**limits):
    question = small_question(**limits)
    return replace(question, candidates=(*question.candidates, TUBE))


def test_what_can_hang_is_not_named():
    assert why(small_question()) == {}


@pytest.mark.parametrize(
    ("limits", "named"),
    [
        ({"budget": 100.0}, ["250.00", "100.00"]),
        ({"watts": 30.0}, ["45", "30"]),
    ],
)
def test_money_and_power_are_named(limits, named):
    question = small_question(**limits)
    dear = replace(question.candidates[0], price=250.0)
    ((name, (sentence,)),) = why(replace(question, candidates=(dear,))).items()
    assert name == "Mid-power panel" and numbers(sentence) == named


def test_one_at_hand_costs_nothing():
    question = small_question(budget=100.0)
    owned = replace(question.candidates[0], price=250.0, owned=1)
    assert why(replace(question, candidates=(owned,))) == {}


def test_a_tube_too_long_for_a_canopy_says_by_how_much():
    (sentence,) = why(with_tube(canopy=True))["Tubes"]
    assert numbers(sentence) == ["85", "25"] and "canopy" in sentence


def test_the_side_where_nothing_may_hang_is_named():
    (sentence,) = why(with_tube(x_cm=(40.0, 60.0)))["Tubes"]
    assert numbers(sentence) == ["85", "30", "30", "40", "60"]


def test_a_question_where_nothing_can_hang_names_the_limit(as_user, owner, tank):
    sent = posted(budget="10")
    page = as_user(owner).post(reverse("tank_layout_new", args=[tank.pk]), sent)
    assert page.status_code == 422
    assert "200.00" in page.content.decode() and "10.00" in page.content.decode()


def test_the_answers_name_what_was_left_out_and_why(as_user, owner, tank):
    asked = StoredQuestion(with_tube(canopy=True), ("kind:mid", "kind:tubes90"), 9.0, None)
    plan = answered(make_plan(owner, tank, asked=write_question(asked)))
    page = as_user(owner).get(reverse("layout_detail", args=[plan.pk])).context["page"]
    ((name, words),) = page.left_out
    assert name == "Tubes" and numbers(words) == ["85", "25"]


def test_what_to_buy_first_is_told_step_by_step(as_user, owner):
    question = small_question(budget=300.0)
    panels = replace(question, candidates=(replace(question.candidates[0], price=250.0),))
    plan = make_plan(owner, None, asked=write_question(StoredQuestion(panels, ("new",), 9.0, None)))
    searched = searched_plan(plan)
    layout = Layout((HungKind(0, 110.0, ((15.0, 30.0), (45.0, 30.0)), 20.0),))
    steps = purchases(searched, Answer(layout, searched.search.scorer.score(layout), ()))
    assert [(step.total, step.in_budget) for step in steps] == [(250, True), (500, False)]


@pytest.mark.parametrize(("price", "columns"), [(250.0, 2), (None, 0)])
def test_an_order_of_buying_without_any_price_has_no_columns_for_it(
    as_user, owner, monkeypatch, price, columns
):
    steps = tuple(Purchase(f"Lamp {k}", price, price, True, (50.0,)) for k in range(2))
    monkeypatch.setattr("apps.planning.layout.views.purchases", lambda *_: steps)
    plan = answered(make_layout_plan(owner))
    page = as_user(owner).get(reverse("layout_answer", args=[plan.pk, 1])).content.decode()
    table = page.split('aria-label="What to buy first"')[1].split("</table>")[0]
    assert table.split("</thead>")[0].count('class="number"') == columns + 1


def test_one_purchase_is_no_order_of_buying(owner):
    searched = searched_plan(make_layout_plan(owner))
    layout = Layout((HungKind(0, 110.0, ((30.0, 30.0),), 20.0),))
    assert purchases(searched, Answer(layout, searched.search.scorer.score(layout), ())) == ()
