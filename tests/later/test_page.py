"""The page of a job: its keeper's alone, with how far it is and what came of it."""

import pytest
from django.urls import reverse

from apps.later.kinds import KINDS, JobAnswer, JobKind
from apps.later.progress import note_progress, read_progress
from tests.factories import make_job, make_tank, make_user


@pytest.fixture
def address(owner, monkeypatch):
    """Return a function that gives the page of the owner's job in a state."""

    def answer(job):
        return JobAnswer("Your tank is here.", "/tanks/", "See it")

    kind = JobKind("Bringing it in", print, answer, again=lambda job: ("/tanks/", "Back"))
    monkeypatch.setitem(KINDS, "bring", kind)

    def make(**fields):
        job = make_job(owner, name="bring", **fields)
        return reverse("job_page", args=[job.key])

    return make


@pytest.mark.parametrize("who", ["co_keeper", "viewer", "stranger"])
def test_it_is_its_keepers_alone(as_user, request, address, owner, who):
    page = address()
    assert as_user(request.getfixturevalue(who)).get(page).status_code == 404
    assert as_user(owner).get(page).status_code == 200


def test_a_job_of_the_sites_own_has_no_page(as_user, owner):
    page = reverse("job_page", args=[make_job().key])
    assert as_user(owner).get(page).status_code == 404


@pytest.mark.parametrize("state", ["waiting", "running"])
def test_until_it_ends_it_is_looked_at_again_with_scripts_and_without(
    as_user, owner, address, state
):
    page = address(state=state)
    text = as_user(owner).get(page).content.decode()
    assert f'hx-get="{page}"' in text and f'href="{page}"' in text


def test_it_leads_back_to_its_tank(as_user, owner, tank, address):
    page = as_user(owner).get(address(arguments={"tank_pk": tank.pk}, state="running"))
    assert f'href="{reverse("tank_detail", args=[tank.pk])}"' in page.content.decode()


@pytest.mark.parametrize("arguments", [{}, {"tank_pk": None}, {"tank_pk": 0}])
def test_a_job_of_no_tank_names_none(as_user, owner, address, arguments):
    assert as_user(owner).get(address(arguments=arguments)).context["tank"] is None


def test_a_tank_that_its_keeper_no_longer_sees_is_not_named(as_user, owner, address):
    other = make_tank(make_user(email="other@example.org"), name="Not theirs")
    page = as_user(owner).get(address(arguments={"tank_pk": other.pk}))
    assert page.context["tank"] is None and "Not theirs" not in page.content.decode()


def test_how_far_it_is_is_seen_from_any_process(as_user, owner, address, kept_folder):
    page = address(state="running")
    note_progress(page.split("/")[2], 30, 120)
    assert as_user(owner).get(page).context["percent"] == 25


def test_without_a_store_it_says_no_number(as_user, owner, address):
    page = address(state="running")
    note_progress(page.split("/")[2], 30, 120)
    assert as_user(owner).get(page).context["percent"] is None


def test_a_cache_that_breaks_stops_no_job(db, monkeypatch):

    monkeypatch.setattr("apps.later.progress.isinstance", lambda *_: 1 / 0, raising=False)
    note_progress("key", 1, 2)
    assert read_progress("key") is None


def test_done_it_leads_to_what_came_of_it(as_user, owner, address):
    text = as_user(owner).get(address(state="done")).content.decode()
    assert 'href="/tanks/"' in text and "hx-trigger" not in text.split('id="job-state"')[1]


def test_failed_it_says_why_and_leads_back(as_user, owner, address):
    text = as_user(owner).get(address(state="failed", problem="Line 7: no date.")).content.decode()
    assert "Line 7: no date." in text and 'href="/tanks/"' in text


def test_htmx_gets_the_fragment_alone(as_user, owner, address):
    text = as_user(owner).get(address(), headers={"HX-Request": "true"}).content.decode()
    assert text.lstrip().startswith("<section") and "<html" not in text
