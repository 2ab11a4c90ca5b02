"""A plan behind a link: the owner makes and revokes it, anyone who holds it looks."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.planning.layout.searching import advance_search
from apps.sharing.models import PlanLink
from tests.factories import make_coral
from tests.planning.questions import make_layout_plan
from tests.planning.what_ifs import make_what_if
from tests.sharing.links import make_plan_link


@pytest.fixture
def plan(owner, tank):
    plan = make_layout_plan(owner, tank, name="Over the window side", notes="Ask the club.")
    while not plan.answer.get("finished"):
        advance_search(plan=plan)
    return plan


@pytest.fixture
def link(plan):
    """Return a link that opens, with its token beside it."""
    link, link.token = make_plan_link(plan)
    return link


def opened(client, link, number=None):
    if number is None:
        return client.get(reverse("shared_plan", args=[link.token]))
    return client.get(reverse("shared_plan_answer", args=[link.token, number]))


def test_a_made_link_opens_without_an_account(as_user, owner, plan, client):
    made = as_user(owner).post(
        reverse("plan_link_new", args=[plan.pk]), {"label": "Club night", "days": 7}
    )
    address = made.context["address"].removeprefix("http://testserver")
    page = client.get(address)
    assert "no-store" in made["Cache-Control"]
    assert page.status_code == 200 and "Ask the club." in page.content.decode()


def test_a_visitor_sees_the_answers_and_changes_nothing(client, link):
    text = opened(client, link).content.decode()
    assert "Mid-power panel" in text and "<form" not in text
    assert reverse("layout_detail", args=[link.plan_id]) not in text


def test_an_answer_leads_back_to_the_shared_plan(client, link):
    text = opened(client, link, 1).content.decode()
    assert reverse("shared_plan", args=[link.token]) in text
    assert 'id="answer-hang"' in text and "light log" not in text


def test_corals_are_not_shown_with_a_plan(client, link, tank):
    make_coral(tank, name="Secret table")
    assert "Secret table" not in opened(client, link, 1).content.decode()


def test_the_address_stays_out_of_caches_and_searches(client, link):
    page = opened(client, link)
    assert page["Referrer-Policy"] == "no-referrer" and "noindex" in page["X-Robots-Tag"]


def revoked(link):
    link.revoke()


def ran_out(link):
    PlanLink.objects.update(expires_at=timezone.now() - dt.timedelta(minutes=1))


def plan_gone(link):
    link.plan.remove()


def tank_gone(link):
    link.plan.tank.remove()


@pytest.mark.parametrize("end", [revoked, ran_out, plan_gone, tank_gone])
def test_a_link_that_ended_opens_nothing(client, link, end):
    end(link)
    page = opened(client, link)
    assert page.status_code == 404 and page.templates[0].name == "sharing/shared_closed.html"


def test_a_number_beyond_the_answers_opens_nothing(client, link):
    assert opened(client, link, 9).status_code == 404


def test_a_plan_without_a_tank_is_shared_by_its_owner(as_user, owner, client):
    plan = make_layout_plan(owner)
    made = as_user(owner).post(reverse("plan_link_new", args=[plan.pk]), {"days": 7})
    assert client.get(made.context["address"]).status_code == 200


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 200), ("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_share(request, as_user, plan, link, reader, status):
    client = as_user(request.getfixturevalue(reader))
    assert client.get(reverse("plan_link_list", args=[plan.pk])).status_code == status
    made = client.post(reverse("plan_link_new", args=[plan.pk]), {"days": 7})
    assert made.status_code == status
    ended = client.post(reverse("plan_link_revoke", args=[link.pk]), follow=True)
    assert ended.status_code == status


@pytest.fixture
def what_if_link(owner, tank):
    make_coral(tank, name="Secret table")
    plan = make_what_if(owner, tank, height_cm=31.5)
    link, link.token = make_plan_link(plan)
    return link


def test_a_what_if_is_shared_too(as_user, owner, what_if_link, client):
    at = reverse("plan_link_new", args=[what_if_link.plan_id])
    made = as_user(owner).post(at, {"days": 7})
    text = client.get(made.context["address"]).content.decode()
    assert "31.5 cm" in text and "<form" not in text


def test_a_shared_what_if_hides_corals_and_the_tanks_name(client, what_if_link, tank):
    text = opened(client, what_if_link).content.decode()
    assert "Secret table" not in text and tank.name not in text


def test_a_what_if_has_no_answers_to_open(client, what_if_link):
    assert opened(client, what_if_link, 1).status_code == 404


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 200), ("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_share_a_what_if(request, as_user, what_if_link, reader, status):
    client = as_user(request.getfixturevalue(reader))
    at = reverse("plan_link_list", args=[what_if_link.plan_id])
    assert client.get(at).status_code == status
