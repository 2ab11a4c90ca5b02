"""The light log: who may see it, who may write, what it says."""

import datetime as dt
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.change.factor import factor_words
from apps.lighting.change.log import LightLog
from apps.lighting.models import LightChange
from tests.factories import hang, make_fixture, make_light_change, make_survey, make_user

NOW = timezone.now()
FORM = {
    "summary": "Raised the left lamp",
    "happened_at": "2026-05-03T18:30",
    "factor": "-20 %",
    "day_hours": "10",
    "ramp_hours": "1,5",
}


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def test_lamps_of_one_name_are_numbered_and_others_not(as_user, owner, tank):
    change = make_light_change(tank, happened_at=days_ago(3), factor=1)
    panel, bar = make_fixture(owner, name="Blue panel"), make_fixture(owner, name="Bar")
    for fixture, x in ((panel, 10), (panel, 40), (bar, 25)):
        hang(change, fixture, x_cm=x)
    page = as_user(owner).get(list_url(tank)).content.decode()
    names = set(re.findall(r"<li><strong>(.*?)</strong>", page))
    assert names == {"Blue panel 1", "Blue panel 2", "Bar"}


def list_url(tank):
    return reverse("light_change_list", args=[tank.pk])


def new_url(tank):
    return reverse("light_change_new", args=[tank.pk])


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_friends_read_the_log(request, as_user, tank, who):
    make_light_change(tank, summary="Cleaned the panes")
    page = as_user(request.getfixturevalue(who)).get(list_url(tank))
    assert "Cleaned the panes" in page.content.decode()


def test_viewer_sees_no_buttons_to_write(as_user, viewer, tank):
    change = make_light_change(tank)
    page = as_user(viewer).get(list_url(tank)).content.decode()
    assert reverse("light_change_edit", args=[change.pk]) not in page
    assert new_url(tank) not in page


@pytest.mark.parametrize("name", ["edit", "remove", "restore"])
@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_others_may_not_write(request, as_user, tank, name, who, status):
    change = make_light_change(tank)
    url = reverse(f"light_change_{name}", args=[change.pk])
    assert as_user(request.getfixturevalue(who)).post(url, FORM).status_code == status
    change.refresh_from_db()
    assert change.summary == "Raised the lamp" and change.removed_at is None


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_others_may_not_add(request, as_user, tank, who, status):
    assert as_user(request.getfixturevalue(who)).post(new_url(tank), FORM).status_code == status
    assert not LightChange.objects.exists()


@pytest.mark.parametrize("who", ["owner", "co_keeper"])
def test_keeper_adds_a_change_in_percent(request, as_user, tank, who):
    user = request.getfixturevalue(who)
    page = as_user(user).post(new_url(tank), FORM, follow=True)
    change = LightChange.objects.get()
    assert (change.factor, change.day_hours, change.ramp_hours) == (0.8, 10, 1.5)
    assert change.created_by == user
    (message,) = page.context["messages"]
    assert all(word in str(message) for word in ("“-20 %”", "0.8", factor_words(0.8)))


def test_time_is_that_of_the_tank(as_user, owner, tank):
    tank.time_zone = "America/New_York"
    tank.save()
    client = as_user(owner)
    page = client.post(new_url(tank), FORM, follow=True).content.decode()
    change = LightChange.objects.get()
    assert change.happened_at == dt.datetime(2026, 5, 3, 22, 30, tzinfo=dt.UTC)
    assert "3 May 2026, 18:30" in page
    form = client.get(reverse("light_change_edit", args=[change.pk])).content.decode()
    assert 'value="2026-05-03T18:30"' in form


def test_future_change_is_refused_at_its_field(as_user, owner, tank):
    ahead = (timezone.now() + dt.timedelta(days=2)).strftime("%Y-%m-%dT%H:%M")
    response = as_user(owner).post(new_url(tank), FORM | {"happened_at": ahead})
    assert response.status_code == 422
    assert "future" in response.context["form"].errors["happened_at"][0]


def test_refused_form_keeps_what_was_typed(as_user, owner, tank):
    response = as_user(owner).post(new_url(tank), FORM | {"factor": "a bit less"})
    page = response.content.decode()
    assert response.status_code == 422
    assert 'value="a bit less"' in page and 'value="1,5"' in page
    assert "Raised the left lamp" in page


def test_new_form_is_filled_with_the_schedule_in_force(as_user, owner, tank):
    make_light_change(tank, happened_at=days_ago(9), day_hours=11, ramp_hours=2)
    make_light_change(tank, happened_at=days_ago(5), day_hours=None, ramp_hours=0)
    form = as_user(owner).get(new_url(tank)).context["form"]
    assert (form["day_hours"].value(), form["ramp_hours"].value()) == ("11", "2")


def test_form_carries_the_cautions(as_user, owner, tank):
    page = as_user(owner).get(new_url(tank)).content.decode()
    assert all(w in page for w in ("Mains over salt water", "Weight overhead", "blue and violet"))


def test_edit_changes_the_entry(as_user, owner, tank):
    change = make_light_change(tank)
    as_user(owner).post(reverse("light_change_edit", args=[change.pk]), FORM | {"factor": "1"})
    change.refresh_from_db()
    assert (change.factor, change.summary) == (1.0, "Raised the left lamp")


def test_removal_can_be_undone(as_user, owner, tank):
    change, client = make_light_change(tank), as_user(owner)
    page = client.post(reverse("light_change_remove", args=[change.pk]), follow=True)
    undo = reverse("light_change_restore", args=[change.pk])
    assert undo in page.content.decode() and not page.context["log"].entries
    assert len(client.post(undo, follow=True).context["log"].entries) == 1


def test_entries_come_newest_first_with_light_against_the_newest_survey(as_user, owner, tank):
    make_survey(tank, taken_at=days_ago(15))
    make_light_change(tank, happened_at=days_ago(20), factor=0.5, summary="before")
    make_light_change(tank, happened_at=days_ago(10), factor=0.8, summary="first")
    make_light_change(tank, happened_at=days_ago(5), factor=0.5, summary="second")
    log = as_user(owner).get(list_url(tank)).context["log"]
    assert [e.change.summary for e in log.entries] == ["second", "first", "before"]
    assert [e.since_survey for e in log.entries] == pytest.approx([0.4, 0.8, 1.0])
    assert (log.light_now, log.changes_since) == (pytest.approx(0.4), 2)


def test_without_a_survey_nothing_is_compared(as_user, owner, tank):
    make_light_change(tank)
    response = as_user(owner).get(list_url(tank))
    log = response.context["log"]
    assert log.light_now is None and log.surveyed_at is None
    assert log.unchanged_words and log.unchanged_words in response.content.decode()


def test_empty_log_says_what_to_do(as_user, owner, tank):
    assert "empty--drawn" in as_user(owner).get(list_url(tank)).content.decode()


def test_log_does_not_ask_once_per_entry(as_user, owner, tank, django_assert_max_num_queries):
    for n in range(1, 61):
        make_light_change(tank, happened_at=days_ago(n))
    client = as_user(owner)
    # Session, user, tank, survey, history, entries with their days, may write, the light that
    # scores forecasts, and a savepoint or two to spare.
    with django_assert_max_num_queries(17):
        client.get(list_url(tank))


def test_change_can_be_edited_after_its_maker_left(tank):
    maker = make_user()
    change = make_light_change(tank, created_by=maker)
    maker.delete()
    change.refresh_from_db()
    change.full_clean()
    assert change.created_by is None


def test_first_entry_is_taken_for_a_hanging(as_user, owner, tank):
    form = as_user(owner).get(new_url(tank)).context["form"]
    assert form["reason"].value() == "hung"
    make_light_change(tank)
    assert as_user(owner).get(new_url(tank)).context["form"]["reason"].value() == "other"


@pytest.mark.parametrize(
    ("surveyed_at", "changes", "word"),
    [(None, 3, "No survey yet"), (NOW, 0, "No change since"), (NOW, 1, "")],
)
def test_the_log_says_when_nothing_is_predicted(surveyed_at, changes, word):
    log = LightLog((), surveyed_at, 1.0, "unchanged", changes)
    assert word in log.unchanged_words and bool(log.unchanged_words) == bool(word)
