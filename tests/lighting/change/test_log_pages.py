"""The light log by pages and kinds, and when a day curve ran."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from apps.lighting.change.views import ENTRIES_A_PAGE, ENTRIES_AT_FIRST
from apps.lighting.day.running import spans_run, start_day_curve
from apps.lighting.history import light_history
from apps.lighting.models import LightChange
from tests.factories import hang, make_day_curve, make_fixture, make_light_change

NOW = timezone.now().replace(microsecond=0)


def days_ago(days):
    return NOW - dt.timedelta(days=days)


def shown(client, tank, query=""):
    page = client.get(reverse("light_change_list", args=[tank.pk]) + query).context["page"]
    return [entry.change.pk for entry in page]


@pytest.fixture
def changes(tank):
    """Changes newest first, every third of them a cleaning."""
    return [
        make_light_change(
            tank, happened_at=days_ago(k + 1), reason="raised" if k % 3 else "cleaned"
        ).pk
        for k in range(2 * ENTRIES_A_PAGE + 1)
    ]


@pytest.mark.parametrize(
    ("who", "led_to"), [("owner", "survey"), ("co_keeper", "survey"), ("viewer", None)]
)
def test_first_lights_lead_on_to_the_next_step(request, as_user, tank, who, led_to):
    hang(make_light_change(tank, happened_at=days_ago(1)), make_fixture(tank.owner))
    client = as_user(request.getfixturevalue(who))
    page = client.get(reverse("light_change_list", args=[tank.pk]))
    stage = page.context["next"]
    assert (stage and stage.key) == led_to
    assert ('id="next-stage"' in page.content.decode()) is (led_to is not None)


def test_a_log_of_years_leads_nowhere(as_user, owner, tank, changes):
    page = as_user(owner).get(reverse("light_change_list", args=[tank.pk]))
    assert page.context["next"] is None


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_log_is_read_by_pages(request, as_user, tank, changes, who):
    client = as_user(request.getfixturevalue(who))
    assert [n for q in ("", "?page=2", "?page=3") for n in shown(client, tank, q)] == changes


def test_stranger_finds_no_log(as_user, stranger, tank, changes):
    assert as_user(stranger).get(reverse("light_change_list", args=[tank.pk])).status_code == 404


def test_as_many_as_fit_stand_on_one_page(as_user, owner, tank):
    for k in range(ENTRIES_A_PAGE):
        make_light_change(tank, happened_at=days_ago(k + 1))
    page = as_user(owner).get(reverse("light_change_list", args=[tank.pk])).context["page"]
    assert not page.has_other_pages()


def test_log_shows_one_kind(as_user, owner, tank, changes):
    assert shown(as_user(owner), tank, "?kind=cleaned") == changes[::3]


def test_log_shows_one_year(as_user, owner, tank):
    for year in (2022, 2023, 2023):
        at = dt.datetime(year, 6, 1, 12, tzinfo=dt.UTC)
        make_light_change(tank, happened_at=at, reason="cleaned" if year == 2022 else "raised")
    client = as_user(owner)
    assert [len(shown(client, tank, f"?year={year}")) for year in (2022, 2023)] == [1, 2]
    assert len(shown(client, tank, "?year=2023&kind=raised")) == 2
    assert shown(client, tank, "?year=2023&kind=cleaned") == []


def make_months(tank, year, counts):
    """Make so many changes in each month of a year; return {month: keys, newest first}."""
    made = {}
    for month, count in counts.items():
        at = dt.datetime(year, month, 28, 12, tzinfo=dt.UTC)
        made[month] = [
            make_light_change(tank, happened_at=at - dt.timedelta(minutes=k)).pk
            for k in range(count)
        ]
    return made


def test_a_year_of_many_changes_is_entered_by_its_months(as_user, owner, tank):
    make_months(tank, 2022, {5: 1})
    made = make_months(tank, 2023, {2: 3, 6: ENTRIES_A_PAGE + 2})
    client, url = as_user(owner), reverse("light_change_list", args=[tank.pk])
    page = client.get(url)
    assert page.context["is_long"] and not page.context["months_there"]
    assert 'href="?year=2023"' in page.content.decode()
    page = client.get(url + "?year=2023")
    assert [day.month for day in page.context["months_there"]] == [2, 6]
    assert 'href="?year=2023&amp;month=6"' in page.content.decode()
    assert shown(client, tank, "?year=2023&month=2") == made[2]
    assert shown(client, tank, "?year=2023&month=6&page=2") == made[6][ENTRIES_A_PAGE:]
    # A year of few changes needs no months, and one that is not there shows its year.
    assert not client.get(url + "?year=2022").context["months_there"]
    assert shown(client, tank, "?year=2023&month=7") == made[6][:ENTRIES_A_PAGE]


def test_months_of_the_only_year_are_offered_at_once(as_user, owner, tank):
    made = make_months(tank, 2023, {2: 3, 6: ENTRIES_A_PAGE})
    client, url = as_user(owner), reverse("light_change_list", args=[tank.pk])
    assert [day.month for day in client.get(url).context["months_there"]] == [2, 6]
    assert shown(client, tank, "?year=2023&month=2") == made[2]
    assert shown(client, tank, "?month=2") == made[2]
    # The chosen month can be left, of however few changes.
    assert f'href="{url}?kind=moved"' in client.get(url + "?kind=moved&month=2").content.decode()


def test_a_month_narrows_where_no_months_are_offered(as_user, owner, tank):
    made = {}
    for month, reason in [(2, "cleaned"), (6, "cleaned"), (7, "raised")]:
        at = dt.datetime(2023, month, 1, 12, tzinfo=dt.UTC)
        made[month] = make_light_change(tank, happened_at=at, reason=reason).pk
    client, url = as_user(owner), reverse("light_change_list", args=[tank.pk])
    assert not client.get(url).context["months_there"]
    assert shown(client, tank, "?year=2023&month=6&kind=cleaned") == [made[6]]
    assert shown(client, tank, "?month=7&kind=cleaned") == []
    page = client.get(url + "?month=6&kind=cleaned")
    assert f'href="{url}?kind=cleaned"' in page.content.decode()
    make_months(tank, 2022, {6: 1})
    # A month of no year is none.
    assert len(shown(client, tank, "?month=6")) == 4


def test_going_to_another_year_or_month_asks_the_database_no_more(
    as_user, owner, tank, django_assert_max_num_queries
):
    make_months(tank, 2022, {5: 1})
    made = make_months(tank, 2023, {2: 3, 6: ENTRIES_A_PAGE + 2})
    client, url = as_user(owner), reverse("light_change_list", args=[tank.pk])
    with CaptureQueriesContext(connection) as first:
        client.get(url)
    with django_assert_max_num_queries(len(first)):
        page = client.get(url + "?year=2023&month=6").context["page"]
    assert [entry.change.pk for entry in page] == made[6][:ENTRIES_A_PAGE]


def parts_of(client, tank, query=""):
    """Return the keys of the changes that stand open and of those that fold."""
    context = client.get(reverse("light_change_list", args=[tank.pk]) + query).context
    opened = [entry.change.pk for _, entries in context["years"] for entry in entries]
    return opened, [entry.change.pk for entry in context["folded"]]


def test_the_newest_stand_open_and_the_others_fold(as_user, owner, tank, changes):
    newest, others = parts_of(as_user(owner), tank)
    assert newest == changes[:ENTRIES_AT_FIRST]
    assert others == changes[ENTRIES_AT_FIRST:ENTRIES_A_PAGE]


def test_whoever_goes_on_or_looks_for_one_reads_all(as_user, owner, tank, changes):
    client = as_user(owner)
    assert parts_of(client, tank, "?page=2") == (changes[ENTRIES_A_PAGE : 2 * ENTRIES_A_PAGE], [])
    folded = f"?entry={changes[ENTRIES_AT_FIRST]}"
    assert parts_of(client, tank, folded) == (changes[:ENTRIES_A_PAGE], [])
    opened = f"?entry={changes[ENTRIES_AT_FIRST - 1]}"
    assert parts_of(client, tank, opened)[0] == changes[:ENTRIES_AT_FIRST]


def test_many_lamps_are_named_in_a_line(as_user, owner, tank):
    change = make_light_change(tank, happened_at=days_ago(1))
    panel, tube = make_fixture(owner, name="Panel"), make_fixture(owner, name="Tube")
    for level in (40, 60, 80):
        hang(change, panel, level_percent=level)
    hang(change, tube, level_percent=100)
    page = as_user(owner).get(reverse("light_change_list", args=[tank.pk]))
    assert page.context["rig_in_short"] == "3 × Panel at 40 to 80\u00a0%, Tube at 100\u00a0%"


@pytest.mark.parametrize("query", ["?kind=lens", "?kind=x", "?page=x", "?entry=x"])
def test_what_is_not_there_shows_the_first_page(as_user, owner, tank, changes, query):
    assert shown(as_user(owner), tank, query) == changes[:ENTRIES_A_PAGE]


def test_entry_just_saved_is_on_the_page_led_to(as_user, owner, tank, changes):
    old = tank.light_changes.get(pk=changes[-1])
    assert shown(as_user(owner), tank, "?" + old.place_in_log().split("?")[1]) == changes[-1:]


def test_day_curve_says_when_it_ran(as_user, owner, tank):
    summer, winter = make_day_curve(tank), make_day_curve(tank, name="Winter")
    for curve, days in ((summer, 90), (winter, 60), (summer, 30)):
        start_day_curve(curve=curve, happened_at=days_ago(days), created_by=owner)
    # A wipe between leaves the day running.
    make_light_change(tank, happened_at=days_ago(10), day_hours=None, ramp_hours=0)
    spans = spans_run(light_history(tank), NOW)
    assert spans[summer.pk] == [(days_ago(90), days_ago(60)), (days_ago(30), None)]
    assert spans[winter.pk] == [(days_ago(60), days_ago(30))]


@pytest.mark.parametrize("name", ["list", "detail"])
def test_pages_of_day_curves_say_when_they_ran(as_user, viewer, tank, name):
    row = make_day_curve(tank)
    url = reverse(f"day_curve_{name}", args=[tank.pk if name == "list" else row.pk])
    assert 'data-ran="0"' in as_user(viewer).get(url).content.decode()
    start_day_curve(curve=row, happened_at=days_ago(3), created_by=None)
    assert 'data-ran="1"' in as_user(viewer).get(url).content.decode()


def test_log_is_parted_by_years_of_the_tanks_clock(as_user, owner, tank):
    tank.time_zone = "Pacific/Auckland"
    tank.save()
    for month, day in ((12, 30), (12, 31)):
        at = dt.datetime(2023, month, day, 20, tzinfo=dt.UTC)
        make_light_change(tank, happened_at=at)
    page = as_user(owner).get(reverse("light_change_list", args=[tank.pk]))
    assert [(year, len(some)) for year, some in page.context["years"]] == [(2024, 1), (2023, 1)]


def test_an_entry_that_is_led_to_stands_open(as_user, owner, tank, changes):
    page = as_user(owner).get(LightChange.objects.get(pk=changes[40]).place_in_log())
    assert page.context["opened_pk"] == changes[40]
    assert changes[40] in [entry.change.pk for entry in page.context["page"]]
