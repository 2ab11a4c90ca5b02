"""A shared plan: locked by a passphrase, and copied into a tank of the reader's."""

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apps.lighting.models import Fixture
from apps.planning.models import Plan
from apps.planning.stored_layout import read_question
from tests.factories import let_in, make_fixture, make_lit_survey, make_tank
from tests.planning.layout.test_hanging import answered
from tests.planning.questions import make_wished_plan
from tests.planning.what_ifs import make_what_if
from tests.sharing.links import make_plan_link

pytestmark = pytest.mark.django_db
WORD = "gentle tide"


@pytest.fixture
def plan(owner, tank):
    source = f"own:{make_fixture(owner, ppf_umol_s=60).pk}"
    plan = answered(make_wished_plan(owner, tank, source))
    Plan.objects.filter(pk=plan.pk).update(
        for_whom="Jo of the club", by_whom="Ottilie", letterhead="Harbour 3", notes="Low tide"
    )
    plan.refresh_from_db()
    return plan


def take(client, token, tank):
    return client.post(reverse("shared_plan_take", args=[token]), {"tank": tank.pk})


def test_a_reader_takes_it_into_a_tank_of_theirs(as_user, stranger, plan):
    mine = make_tank(stranger)
    reader = as_user(stranger)
    answer = take(reader, make_plan_link(plan)[1], mine)
    copy = Plan.objects.get(owner=stranger)
    assert answer.url == copy.get_absolute_url()
    assert copy.tank == mine and copy.answer == plan.answer
    assert (copy.name, copy.notes) == (plan.name, plan.notes)
    assert reader.get(answer.url).status_code == 200
    plan.refresh_from_db()
    assert plan.owner != stranger


def test_the_copy_says_nothing_of_whose_it_was(as_user, stranger, plan):
    take(as_user(stranger), make_plan_link(plan)[1], make_tank(stranger))
    copy = Plan.objects.get(owner=stranger)
    assert read_question(copy.asked).sources == ("own:0",)
    assert (copy.for_whom, copy.by_whom, copy.letterhead, copy.sent) == ("", "", "", {})


def test_it_goes_into_no_tank_that_the_reader_may_not_change(
    as_user, stranger, plan, tank, co_keeper
):
    looked_at = make_tank()
    let_in(looked_at, stranger)
    _, token = make_plan_link(plan)
    for other in (tank, looked_at):
        assert take(as_user(stranger), token, other).status_code == 404
    assert not Plan.objects.filter(owner=stranger).exists()
    assert take(as_user(co_keeper), token, tank).status_code == 302


def test_a_visitor_signs_in_first(client, plan, tank):
    _, token = make_plan_link(plan)
    assert reverse("account_login") in take(client, token, tank).url
    page = client.get(reverse("shared_plan", args=[token])).content.decode()
    assert 'id="take-plan"' in page and "/take/" not in page


def test_a_revoked_link_gives_nothing_away(as_user, stranger, plan):
    link, token = make_plan_link(plan)
    link.revoke()
    assert take(as_user(stranger), token, make_tank(stranger)).status_code == 404


def test_passphrase_locks_every_page_of_a_plan(as_user, owner, stranger, plan):
    form = {"days": 30, "passphrase": WORD}
    made = as_user(owner).post(reverse("plan_link_new", args=[plan.pk]), form)
    token = made.context["address"].rstrip("/").rsplit("/", 1)[1]
    page = reverse("shared_plan", args=[token])
    client = Client()
    for address in (page, reverse("shared_plan_answer", args=[token, 1])):
        answer = client.get(address)
        assert answer.status_code == 403 and plan.name not in answer.content.decode()
    assert take(as_user(stranger), token, make_tank(stranger)).status_code == 403
    unlock = reverse("shared_plan_unlock", args=[token])
    assert client.post(unlock, {"passphrase": "gentle tides"}).status_code == 403
    answer = client.post(unlock, {"passphrase": WORD})
    (cookie,) = answer.cookies.values()
    assert answer.url == page and cookie["path"] == page and cookie["httponly"]
    assert client.get(page).status_code == 200
    assert client.get(reverse("shared_plan_answer", args=[token, 1])).status_code == 200


@pytest.fixture
def what_if(owner, tank):
    return make_what_if(owner, tank, height_cm=30.0)


def lit_tank(keeper, **overrides):
    """Return a tank of a keeper's that has a light map."""
    tank = make_tank(keeper, **overrides)
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=10))
    Fixture.objects.owned_by(keeper).filter(name="Panel").update(name="Mine")
    return tank


def test_a_what_if_is_taken_with_its_lamps(as_user, stranger, what_if):
    mine = lit_tank(stranger)
    before = Fixture.objects.owned_by(stranger).count()
    reader = as_user(stranger)
    answer = take(reader, make_plan_link(what_if)[1], mine)
    copy = Plan.objects.get(owner=stranger)
    assert answer.url == copy.get_absolute_url() and copy.tank == mine
    assert copy.asked["rows"][0]["height_cm"] == 30.0
    own = set(Fixture.objects.owned_by(stranger).values_list("pk", flat=True))
    assert {row["fixture_id"] for row in copy.asked["rows"]} <= own and len(own) > before
    assert not reader.get(answer.url).context.get("problems")


def test_taken_twice_its_lamps_are_described_once(as_user, stranger, what_if):
    token, mine = make_plan_link(what_if)[1], lit_tank(stranger)
    take(as_user(stranger), token, mine)
    described = Fixture.objects.owned_by(stranger).count()
    take(as_user(stranger), token, mine)
    assert Plan.objects.filter(owner=stranger).count() == 2
    assert Fixture.objects.owned_by(stranger).count() == described


def test_a_what_if_is_not_taken_into_a_tank_without_a_light_map(as_user, stranger, what_if):
    token = make_plan_link(what_if)[1]
    answer = take(as_user(stranger), token, make_tank(stranger))
    assert answer.url == reverse("shared_plan", args=[token])
    assert not Plan.objects.filter(owner=stranger).exists()
    assert not Fixture.objects.owned_by(stranger).exists()


def test_a_visitor_of_a_what_if_signs_in_first(client, what_if):
    page = client.get(reverse("shared_plan", args=[make_plan_link(what_if)[1]])).content.decode()
    assert 'id="take-plan"' in page and "/take/" not in page
