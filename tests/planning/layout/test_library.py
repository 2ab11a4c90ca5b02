"""Whose fixtures a plan may name: a question written by hand can hold any key."""

import pytest
from django.urls import reverse

from apps.planning.layout.fixtures.library import library_of
from tests.factories import let_in, make_fixture, make_user
from tests.planning.layout.test_hanging import answered
from tests.planning.questions import make_layout_plan, make_wished_plan
from tests.sharing.links import make_plan_link

pytestmark = pytest.mark.django_db
SECRET = [{"name": "Keeper’s own violet", "peak_nm": 420, "share_percent": 100}]


def source_of(keeper):
    return f"own:{make_fixture(keeper, channels=SECRET, ppf_umol_s=60).pk}"


def test_a_plan_reads_no_fixture_of_another_keeper(as_user, client, owner, tank, stranger):
    plan = answered(make_wished_plan(owner, tank, source_of(stranger)))
    _, token = make_plan_link(plan)
    reader = as_user(owner)
    for where, page in (
        (reader, reverse("layout_answer", args=[plan.pk, 1])),
        (reader, reverse("layout_detail", args=[plan.pk])),
        (client, reverse("shared_plan", args=[token])),
        (client, reverse("shared_plan_answer", args=[token, 1])),
    ):
        answer = where.get(page)
        assert answer.status_code == 200 and SECRET[0]["name"] not in answer.content.decode()


@pytest.mark.parametrize("who", ["owner", "co_keeper"])
def test_a_plan_reads_the_fixtures_of_those_who_keep_the_tank(
    request, as_user, owner, tank, who, viewer
):
    source = source_of(request.getfixturevalue(who))
    plan = answered(make_wished_plan(owner, tank, source))
    page = as_user(viewer).get(reverse("layout_answer", args=[plan.pk, 1]))
    assert SECRET[0]["name"] in page.content.decode()


def test_neither_viewers_nor_keepers_of_other_tanks_lend_theirs(owner, tank, viewer, stranger):
    elsewhere = make_user()
    let_in(tank, elsewhere)
    plan = make_layout_plan(owner, tank)
    sources = [source_of(one) for one in (viewer, stranger, elsewhere)]
    assert library_of(plan, sources) == {}


def test_a_plan_without_a_tank_reads_its_owners_alone(owner, stranger):
    sources = [source_of(owner), source_of(stranger), "kind:mid", "own:", f"own:{'9' * 40}"]
    assert list(library_of(make_layout_plan(owner), sources)) == sources[:1]
