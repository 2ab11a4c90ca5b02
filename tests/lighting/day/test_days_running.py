"""Which day curves run from which change on, and what they do to the light."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from apps.lighting.day.running import start_day_curve
from apps.lighting.history import light_history
from apps.lighting.models import DayCurve
from apps.lightmap.lightmap import tank_light
from apps.tanks.beginning import beginning_of
from tests.factories import make_coral, make_day_curve, make_light_change, make_lit_survey
from tests.lighting.change.test_light_log import list_url
from tests.lighting.day.test_day_curves import NOW, TRAPEZOID, days_ago, new_url, typed, url


def started(tank, moment, **overrides):
    return start_day_curve(
        curve=make_day_curve(tank, **overrides), happened_at=moment, created_by=tank.owner
    )


def test_started_curve_holds_from_its_change_on(as_user, owner, tank):
    make_light_change(tank, happened_at=days_ago(30), day_hours=9, ramp_hours=0)
    curve = make_day_curve(tank)
    moment = days_ago(5).astimezone(tank.zone).strftime("%Y-%m-%dT%H:%M")
    assert as_user(owner).post(url("start", curve), {"happened_at": moment}).status_code == 302
    history = light_history(tank)
    assert history.schedule_at(days_ago(6)).full_hours == 9
    assert history.schedule_at(NOW).full_hours == 10
    page = as_user(owner).get(list_url(tank)).context
    entry = page["log"].entries[0]
    assert "Summer day" in entry.change.title and entry.day_words == "Summer day"
    assert [day.full_hours for day in page["days"]] == [10]


def test_days_page_and_the_way_of_a_tank_agree_on_hours_of_the_log(as_user, owner, tank):
    client, page = as_user(owner), reverse("day_curve_list", args=[tank.pk])

    def is_done():
        return {s.key: s.is_done for s in beginning_of(tank, timezone.now()).stages}["schedule"]

    make_light_change(tank, happened_at=days_ago(30), day_hours=None)
    assert not is_done() and 'id="hours-known"' not in client.get(page).content.decode()
    make_light_change(tank, happened_at=days_ago(9), day_hours=9, ramp_hours=0)
    assert is_done() and 'id="hours-known"' in client.get(page).content.decode()


def test_start_in_the_future_is_refused(as_user, owner, tank):
    ahead = (NOW + dt.timedelta(days=2)).strftime("%Y-%m-%dT%H:%M")
    response = as_user(owner).post(url("start", make_day_curve(tank)), {"happened_at": ahead})
    assert response.status_code == 422 and "future" in response.content.decode()


def test_reshaping_a_curve_does_not_rewrite_what_was(as_user, owner, tank):
    started(tank, days_ago(9))
    curve = DayCurve.objects.get()
    as_user(owner).post(url("edit", curve), typed([("8", "100"), ("9", "100")]))
    assert light_history(tank).schedule_at(NOW).full_hours == 10
    assert as_user(owner).get(url("detail", curve)).context["run_differs"]


def test_groups_add_up_by_their_shares(tank):
    started(tank, days_ago(9), group="blue", share_percent=75, points=[[480, 100], [1200, 100]])
    started(tank, days_ago(8), group="white", share_percent=25, points=[[600, 100], [1080, 100]])
    # 12 h of three quarters and 8 h of one quarter.
    assert light_history(tank).schedule_at(NOW).full_hours == pytest.approx(11, abs=1e-12)


def test_curve_of_all_channels_ends_those_of_groups(tank):
    started(tank, days_ago(9), group="blue", share_percent=75)
    started(tank, days_ago(8))
    assert [run.group for run in light_history(tank).days_at(NOW)] == [""]


def test_moonlight_and_refugium_run_beside_the_day(tank):
    started(tank, days_ago(9))
    started(tank, days_ago(8), zone="refugium", points=[[1260, 100], [360, 100]])
    moon = [[1200, 2], [480, 2]]
    started(tank, days_ago(7), name="Moon", is_moonlight=True, group="moon", points=moon)
    history = light_history(tank)
    assert len(history.days_at(NOW)) == 3
    # Twelve hours of 2 % beside ten of full level.
    assert history.schedule_at(NOW).full_hours == pytest.approx(10 + 12 * 0.02, abs=1e-9)
    assert history.schedule_at(NOW).peak == pytest.approx(1)


def test_curve_started_in_the_past_runs_on_beside_later_ones(tank):
    started(tank, days_ago(8), group="white", share_percent=25, points=[[600, 100], [1080, 100]])
    started(tank, days_ago(9), group="blue", share_percent=75, points=[[480, 100], [1200, 100]])
    # Entered last, dated first: the white one follows it as if it had been known then.
    history = light_history(tank)
    assert {run.group for run in history.days_at(NOW)} == {"blue", "white"}
    assert history.schedule_at(NOW).full_hours == pytest.approx(11)


def test_taken_away_start_gives_back_what_ran_before(tank):
    started(tank, days_ago(9), name="Old")
    second = started(tank, days_ago(5), name="New")
    started(tank, days_ago(3), zone="refugium", name="Sump")
    second.remove()
    assert {run.name for run in light_history(tank).days_at(NOW)} == {"Old", "Sump"}


def test_hours_alone_end_the_curves_of_the_display_only(tank):
    started(tank, days_ago(9))
    started(tank, days_ago(8), zone="refugium", name="Sump")
    make_light_change(tank, happened_at=days_ago(5), day_hours=9, ramp_hours=0)
    history = light_history(tank)
    assert [run.name for run in history.days_at(NOW)] == ["Sump"]
    assert history.schedule_at(NOW).full_hours == 9


def test_moonlight_alone_is_no_day(as_user, owner, tank):
    make_light_change(tank, happened_at=days_ago(9), factor=1, day_hours=9, ramp_hours=0)
    moon = [[1200, 2], [480, 2]]
    started(tank, days_ago(7), name="Moon", is_moonlight=True, group="moon", points=moon)
    history = light_history(tank)
    assert history.schedule_at(NOW).full_hours == 9
    assert history.factor_between(days_ago(8), NOW) == 1
    page = as_user(owner).get(list_url(tank))
    assert "Moon" in page.content.decode() and page.context["day"].full_hours == 9


def test_lower_peak_dims_the_days_peak(tank):
    started(tank, days_ago(9))
    started(tank, days_ago(5), points=[[480, 60], [1200, 60]])
    history = light_history(tank)
    assert history.factor_between(days_ago(7), NOW) == pytest.approx(0.6)
    # PAR at the peak falls to 0.6 and holds for 12 h: 7.2 h of full level.
    assert history.schedule_at(NOW).full_hours == 12


def test_first_curve_is_measured_against_the_full_level_that_hours_mean(tank):
    make_light_change(tank, happened_at=days_ago(9), factor=1, day_hours=10)
    started(tank, days_ago(5), points=[[480, 60], [1200, 60]])
    history = light_history(tank)
    assert history.factor_between(days_ago(7), NOW) == pytest.approx(0.6)
    make_light_change(tank, happened_at=days_ago(2), factor=1, day_hours=10)
    assert light_history(tank).factor_between(days_ago(7), NOW) == pytest.approx(1)


def test_scaled_curve_gives_what_was_wanted_once_it_runs(as_user, owner, tank):
    make_lit_survey(tank)
    make_coral(tank)
    data = typed(TRAPEZOID, do="scale", wanted_dli="2", spot="0")
    client = as_user(owner)
    rows = client.post(new_url(tank), data).context["rows"].forms[:4]
    client.post(new_url(tank), typed([(f["at"].value(), f["level"].value()) for f in rows]))
    start_day_curve(curve=DayCurve.objects.get(), happened_at=timezone.now(), created_by=owner)
    light = tank_light(tank).at([(30, 30, 25)], timezone.now())[0]
    # The level stands in the form with six digits.
    assert light.dli_mol == pytest.approx(2, rel=1e-4)


def test_hours_above_a_share_of_the_peak(tank):
    started(tank, days_ago(5), points=[[480, 0], [600, 50], [1080, 50], [1200, 0]])
    # Half of the peak is reached halfway up a ramp of two hours: 12 h less twice one hour.
    assert light_history(tank).schedule_at(NOW).hours_at_or_above(0.5) == pytest.approx(10)


def test_log_tells_what_a_lower_peak_did(as_user, owner, tank):
    started(tank, days_ago(5), points=[[480, 80], [1200, 80]])
    assert "a fifth less" in as_user(owner).get(list_url(tank)).content.decode()


def test_removed_start_is_as_if_never_made(tank):
    make_light_change(tank, happened_at=days_ago(30), day_hours=9, ramp_hours=0)
    started(tank, days_ago(5)).remove()
    assert light_history(tank).schedule_at(NOW).full_hours == 9


def test_hours_beside_a_curve_are_refused(tank):
    change = started(tank, days_ago(5))
    change.day_hours = 8
    with pytest.raises(ValidationError, match="leave the hours blank"):
        change.full_clean()


# --- A date at the tank ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "hours"),
    # Clocks of Central Europe: forward at 02:00 on 29 March 2026, back at 03:00 on 25 October.
    [(dt.date(2026, 3, 28), 3), (dt.date(2026, 3, 29), 2), (dt.date(2026, 10, 25), 4)],
)
def test_date_of_23_and_25_hours(tank, day, hours):
    tank.time_zone = "Europe/Berlin"
    tank.save()
    night = [[60, 100], [240, 100]]
    started(tank, dt.datetime(2026, 1, 1, tzinfo=dt.UTC), points=night)
    ((_, result),) = light_history(tank).day_pieces(day, tank.zone)
    assert result == pytest.approx(hours, abs=1e-12)


def test_date_with_a_change_in_it_is_two_pieces(tank):
    start = dt.datetime(2026, 5, 1, tzinfo=dt.UTC)
    started(tank, start, points=[[480, 100], [1200, 100]])
    noon = dt.datetime(2026, 5, 9, 12, tzinfo=dt.UTC)
    started(tank, noon, points=[[480, 50], [1080, 50]])
    pieces = light_history(tank).day_pieces(noon.date(), tank.zone)
    # Until noon 4 h of the old day; from noon 6 h at the peak of the new one.
    assert [hours for _, hours in pieces] == pytest.approx([4, 6], abs=1e-12)


def test_daily_light_of_a_date_adds_its_pieces(tank):
    make_lit_survey(tank, taken_at=days_ago(20))
    started(tank, days_ago(15))
    light, point = tank_light(tank), [(30, 30, 25)]
    day = days_ago(3).astimezone(tank.zone).date()
    par = light.at(point, days_ago(3))[0].par_umol
    assert light.dli_on(point, day, tank.zone)[0] == pytest.approx(par * 10 * 0.0036)
