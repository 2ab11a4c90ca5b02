"""Another time zone for a tank: asked what it means, counted before, and done as meant."""

import datetime as dt
import pickle
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.clock import clock_turns, day_ends
from apps.lighting.day.running import start_day_curve
from apps.lighting.history import light_history
from apps.tanks.models import Tank
from apps.tanks.rezoning import Effect, Means
from apps.tanks.zones import MovedZone, zone_of
from tests.factories import (
    make_day_curve,
    make_light_change,
    make_survey,
    make_tank,
    make_user,
    make_water_event,
)

BERLIN, NEW_YORK = ZoneInfo("Europe/Berlin"), ZoneInfo("America/New_York")
MOVED_AT = dt.datetime(2026, 3, 10, 12, 0, tzinfo=dt.UTC)
WEST = MovedZone(((MOVED_AT, BERLIN),), NEW_YORK)
EAST = MovedZone(((MOVED_AT, NEW_YORK),), BERLIN)
FORM = {
    "name": "Harbour cube", "length_cm": "60", "width_cm": "60", "depth_cm": "50",
    "back_pane": "clear", "bottom": "sand",
}  # fmt: skip


@pytest.fixture
def tank(owner):
    """A tank in New York whose evening entries lie on the next day in Berlin."""
    return make_tank(owner, time_zone="America/New_York")


@pytest.fixture
def entries(tank):
    evening = dt.datetime(2026, 6, 1, 20, 0, tzinfo=NEW_YORK)
    return [
        make_light_change(tank, happened_at=evening),
        make_light_change(tank, happened_at=evening.replace(hour=10)),
        make_survey(tank, taken_at=evening.replace(month=2)),
        make_water_event(tank, happened_at=evening.replace(day=3)),
    ]


def rezone_to(client, tank, means=None, name="Europe/Berlin", **more):
    """Change the zone as the page does: ask first, then send what it shows with the meaning."""
    url = reverse("tank_edit", args=[tank.pk])
    query = client.post(url, FORM | {"time_zone": name} | more)
    if means is None:
        return query
    counted = query.context["rezoning"].counts_for()
    meant = {"time_zone": name, "zone_means": means, "counted_for": counted}
    return client.post(url, FORM | meant | more)


def shown(tank, entries):
    """Return what the clock at the tank shows for each entry."""
    for entry in entries:
        entry.refresh_from_db()
    moments = [getattr(e, "happened_at", None) or e.taken_at for e in entries]
    zone = Tank.objects.get(pk=tank.pk).zone
    return [m.astimezone(zone).replace(tzinfo=None) for m in moments], moments


# --- The clock of a tank that moved ---------------------------------------------------------------


@pytest.mark.parametrize("zone", [WEST, EAST], ids=["west", "east"])
def test_every_quarter_hour_about_a_move_comes_back(zone):
    start = MOVED_AT - dt.timedelta(days=2)
    moments = [start + dt.timedelta(minutes=15 * n) for n in range(4 * 24 * 5)]
    local = [m.astimezone(zone) for m in moments]
    assert [at.astimezone(dt.UTC) for at in local] == moments


def test_clock_is_that_of_the_place_before_and_after():
    assert (MOVED_AT - dt.timedelta(seconds=1)).astimezone(WEST).tzname() == "CET"
    assert MOVED_AT.astimezone(WEST).tzname() == "EDT"


def test_move_is_a_day_of_other_length():
    hours = [
        (end.timestamp() - start.timestamp()) / 3600
        for start, end in (day_ends(MOVED_AT.date(), zone) for zone in (WEST, EAST))
    ]
    assert hours == [29.0, 19.0]


def test_move_is_one_more_turn_of_the_clock():
    turns = [at for at, _ in clock_turns(2026, WEST)]
    assert MOVED_AT.timestamp() in turns and all(a < b for a, b in pairwise(turns))


def test_zone_survives_pickling_and_is_equal_to_itself():
    again = pickle.loads(pickle.dumps(WEST))
    assert again == WEST and hash(again) == hash(WEST) and again != EAST


def test_zone_without_moves_is_the_plain_one():
    assert zone_of("Europe/Berlin") == BERLIN


# --- What is asked --------------------------------------------------------------------------------


def test_new_zone_is_not_saved_before_it_is_said_what_it_means(as_user, owner, tank, entries):
    answer = rezone_to(as_user(owner), tank)
    tank.refresh_from_db()
    assert answer.status_code == 422 and tank.time_zone == "America/New_York"


def test_page_counts_what_each_meaning_changes(as_user, owner, tank, entries):
    effects = rezone_to(as_user(owner), tank).context["rezoning"].effects()
    counts = {e.means: (e.entries, e.redated, e.retimed) for e in effects}
    assert counts == {"moved": (4, 0, 0), "clock": (4, 0, 4), "moment": (4, 3, 0)}


def test_page_tells_which_days_are_cut_anew(as_user, owner, tank):
    noon = timezone.now().astimezone(NEW_YORK).replace(hour=12, minute=0, second=0, microsecond=0)
    long_day = make_day_curve(tank, name="Long", points=[[360, 0], [420, 100], [1200, 100]])
    short = make_day_curve(tank, name="Short", points=[[720, 0], [780, 100], [900, 100]])
    for curve, days in ((long_day, 20), (short, 10)):
        at = noon - dt.timedelta(days=days)
        start_day_curve(curve=curve, happened_at=at, created_by=owner)
    effects = rezone_to(as_user(owner), tank).context["rezoning"].effects()
    recut = {e.means.value: any("other hours" in line for line in e.day_lines) for e in effects}
    assert recut == {"moved": False, "clock": False, "moment": True}


def test_tank_without_entries_is_not_asked(as_user, owner, tank):
    assert rezone_to(as_user(owner), tank).status_code == 302
    tank.refresh_from_db()
    assert (tank.time_zone, tank.earlier_zones) == ("Europe/Berlin", [])


def test_same_zone_is_not_asked_about(as_user, owner, tank, entries):
    answer = rezone_to(as_user(owner), tank, name="America/New_York")
    assert answer.status_code == 302


# --- Each meaning ---------------------------------------------------------------------------------


def test_moved_tank_keeps_what_its_entries_show(as_user, owner, tank, entries):
    before = shown(tank, entries)
    assert rezone_to(as_user(owner), tank, "moved").status_code == 302
    assert shown(tank, entries) == before


def test_moved_tank_goes_by_the_new_clock_from_then_on(as_user, owner, tank, entries):
    rezone_to(as_user(owner), tank, "moved")
    tank.refresh_from_db()
    now = timezone.now()
    assert now.astimezone(tank.zone).utcoffset() == now.astimezone(BERLIN).utcoffset()


def test_move_dated_back_is_counted_before_it_is_saved(as_user, owner, tank, entries):
    client, url = as_user(owner), reverse("tank_edit", args=[tank.pk])
    counted = rezone_to(client, tank).context["rezoning"].counts_for()
    meant = {"time_zone": "Europe/Berlin", "zone_means": "moved", "counted_for": counted}
    answer = client.post(url, FORM | meant | {"moved_at": "2026-06-01T12:00"})
    assert answer.status_code == 422
    assert [e.redated for e in answer.context["rezoning"].effects()] == [2, 0, 3]


def test_move_dated_back_redates_what_came_after_it(as_user, owner, tank, entries):
    rezone_to(as_user(owner), tank, "moved", moved_at="2026-06-01T12:00")
    clocks = [f"{at:%m-%d %H}" for at in shown(tank, entries)[0]]
    assert clocks == ["06-02 02", "06-01 10", "02-01 20", "06-04 02"]


@pytest.mark.parametrize("moved_at", ["2999-01-01T12:00", "soon"])
def test_no_such_move_is_refused(as_user, owner, tank, entries, moved_at):
    assert rezone_to(as_user(owner), tank, "moved", moved_at=moved_at).status_code == 422


def test_move_before_the_last_one_is_refused(as_user, owner, tank, entries):
    client = as_user(owner)
    rezone_to(client, tank, "moved", moved_at="2026-06-01T12:00")
    answer = rezone_to(client, tank, "moved", name="Asia/Tokyo", moved_at="2026-05-01T12:00")
    assert answer.status_code == 422 and "moved_at" in answer.context["rezoning"].errors


def test_wrong_zone_keeps_the_clock_times_typed(as_user, owner, tank, entries):
    clocks, moments = shown(tank, entries)
    rezone_to(as_user(owner), tank, "clock")
    after = shown(tank, entries)
    assert after[0] == clocks
    assert [b - a for a, b in zip(moments, after[1], strict=True)] == [dt.timedelta(hours=-6)] * 4


def test_wrong_zone_of_true_moments_keeps_the_moments(as_user, owner, tank, entries):
    moments = shown(tank, entries)[1]
    rezone_to(as_user(owner), tank, "moment")
    tank.refresh_from_db()
    assert shown(tank, entries)[1] == moments and tank.zone == BERLIN


def test_light_of_each_date_stays_where_clock_times_are_kept(as_user, owner, tank):
    noon = timezone.now().astimezone(NEW_YORK).replace(hour=12, minute=0, second=0, microsecond=0)
    changed = noon - dt.timedelta(days=20)
    start_day_curve(curve=make_day_curve(tank), happened_at=changed, created_by=owner)
    before = [h for _, h in light_history(tank).day_pieces(changed.date(), tank.zone)]
    rezone_to(as_user(owner), tank, "clock")
    tank = Tank.objects.get(pk=tank.pk)
    after = [h for _, h in light_history(tank).day_pieces(changed.date(), tank.zone)]
    assert after == before and None not in after[1:]


def test_clock_times_in_the_future_are_refused(as_user, owner, tank):
    made = make_light_change(tank, happened_at=timezone.now() - dt.timedelta(minutes=5))
    answer = rezone_to(as_user(owner), tank, "clock", name="Pacific/Honolulu")
    made.refresh_from_db()
    assert answer.status_code == 422 and made.happened_at < timezone.now()
    assert "zone_means" in answer.context["rezoning"].errors


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_others_change_no_zone(request, as_user, tank, entries, who, status):
    client = as_user(request.getfixturevalue(who))
    meant = {"time_zone": "Europe/Berlin", "zone_means": "moment", "counted_for": "Europe/Berlin"}
    answer = client.post(reverse("tank_edit", args=[tank.pk]), FORM | meant)
    tank.refresh_from_db()
    assert (answer.status_code, tank.time_zone) == (status, "America/New_York")


def test_co_keeper_is_asked_too(as_user, co_keeper, tank, entries):
    assert rezone_to(as_user(co_keeper), tank, "moved").status_code == 302


# --- By the API -----------------------------------------------------------------------------------


def patch(client, tank, **data):
    url = reverse("api-tank-detail", args=[tank.pk])
    return client.patch(url, data, content_type="application/json")


def test_api_asks_what_a_new_zone_means(as_user, owner, tank, entries):
    answer = patch(as_user(owner), tank, time_zone="Europe/Berlin")
    tank.refresh_from_db()
    assert answer.status_code == 400 and list(answer.json()["errors"]) == ["zone_means"]
    assert tank.time_zone == "America/New_York"


def test_api_does_as_meant(as_user, owner, tank, entries):
    clocks = shown(tank, entries)[0]
    answer = patch(as_user(owner), tank, time_zone="Europe/Berlin", zone_means="clock")
    assert answer.status_code == 200 and answer.json()["time_zone"] == "Europe/Berlin"
    assert shown(tank, entries)[0] == clocks


def test_api_stranger_finds_no_tank(as_user, tank, entries):
    answer = patch(as_user(make_user()), tank, time_zone="Europe/Berlin", zone_means="moment")
    assert answer.status_code == 404


@pytest.mark.parametrize(
    ("means", "word"),
    [
        (Means.CLOCK, "of 3 changes"),
        (Means.MOVED, "new clock"),
        (Means.MOMENT, "their true time"),
    ],
)
def test_each_meaning_says_what_becomes_of_the_entries(means, word):
    assert word in Effect(means, entries=5, redated=1, retimed=3, day_lines=()).words
