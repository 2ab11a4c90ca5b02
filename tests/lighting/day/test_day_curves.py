"""Day curves: who may, what is kept, what is refused, and what they do to the light."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from apps.lighting.day.forms import clock_text, in_order, parse_clock
from apps.lighting.day.running import start_day_curve
from apps.lighting.history import light_history
from apps.lighting.models import DayCurve, LightChange
from apps.lightmap.lightmap import tank_light
from tests.factories import make_coral, make_day_curve, make_light_change, make_lit_survey
from tests.lighting.change.test_light_log import list_url

NOW = timezone.now()


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def typed(points, do="save", **fields):
    """Return the POST of a day curve whose rows hold (time, level)."""
    data = {
        "name": "Summer", "zone": "display", "group": "", "share_percent": "100", "do": do,
        "point-TOTAL_FORMS": str(len(points) + 2), "point-INITIAL_FORMS": "0",
    }  # fmt: skip
    for i, (at, level) in enumerate([*points, ("", ""), ("", "")]):
        data |= {f"point-{i}-at": at, f"point-{i}-level": level}
    return data | fields


TRAPEZOID = [("8:00", "0"), ("10", "100 %"), ("18:00", "100"), ("8 pm", "0")]


def new_url(tank):
    return reverse("day_curve_new", args=[tank.pk])


def url(name, curve):
    return reverse(f"day_curve_{name}", args=[curve.pk])


# --- Who may ---------------------------------------------------------------------------------


@pytest.mark.parametrize("who", ["owner", "co_keeper"])
def test_keepers_name_a_day(request, as_user, tank, who):
    client = as_user(request.getfixturevalue(who))
    assert client.post(new_url(tank), typed(TRAPEZOID)).status_code == 302
    curve = DayCurve.objects.get()
    assert curve.points == [[480, 0], [600, 100], [1080, 100], [1200, 0]]
    assert curve.curve().full_hours == 10
    page = client.get(reverse("day_curve_list", args=[tank.pk])).content.decode()
    assert "Summer" in page and url("detail", curve) in page


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
@pytest.mark.parametrize("name", ["edit", "copy", "start", "remove", "restore"])
def test_others_change_nothing(request, as_user, tank, who, status, name):
    curve = make_day_curve(tank)
    client = as_user(request.getfixturevalue(who))
    assert client.post(url(name, curve), typed(TRAPEZOID)).status_code == status
    assert client.post(new_url(tank), typed(TRAPEZOID)).status_code == status
    assert DayCurve.objects.get().name == "Summer day" and not LightChange.objects.exists()


@pytest.mark.parametrize(("who", "status"), [("viewer", 200), ("stranger", 404)])
def test_friends_read_and_strangers_do_not(request, as_user, tank, who, status):
    curve = make_day_curve(tank)
    client = as_user(request.getfixturevalue(who))
    assert client.get(url("detail", curve)).status_code == status
    assert client.get(reverse("day_curve_list", args=[tank.pk])).status_code == status


def test_viewer_sees_no_button_that_writes(as_user, viewer, tank):
    page = " ".join(
        as_user(viewer).get(url("detail", make_day_curve(tank))).content.decode().split()
    )
    assert "Start it" not in page and "Copy it" not in page and "/edit/" not in page


# --- The form --------------------------------------------------------------------------------


def test_wrong_cells_are_told_there_and_all_typed_is_kept(as_user, owner, tank):
    response = as_user(owner).post(new_url(tank), typed([("8:75", "0"), ("10", "120")]))
    page = response.content.decode()
    assert response.status_code == 422 and not DayCurve.objects.exists()
    assert "id_point-0-at_error" in page and "id_point-1-level_error" in page
    assert 'value="8:75"' in page and 'value="120"' in page and 'value="Summer"' in page


def test_night_must_be_dark(as_user, owner, tank):
    around = [("0:00", "3"), ("24:00", "3")]
    response = as_user(owner).post(new_url(tank), typed(around))
    assert response.status_code == 422
    assert "The night must be dark" in response.content.decode()
    named = as_user(owner).post(new_url(tank), typed(around, is_moonlight="on"))
    assert named.status_code == 302


def test_bright_moonlight_is_refused(as_user, owner, tank):
    response = as_user(owner).post(
        new_url(tank), typed([("20:00", "30"), ("6:00", "30")], is_moonlight="on")
    )
    assert response.status_code == 422 and "Moonlight stays at 5 %" in response.content.decode()


def test_manual_timer_is_two_points(as_user, owner, tank):
    as_user(owner).post(new_url(tank), typed([("9", "100"), ("19:30", "100")]))
    assert DayCurve.objects.get().curve().full_hours == 10.5


def test_day_may_pass_midnight(as_user, owner, tank):
    as_user(owner).post(new_url(tank), typed([("22:00", "100"), ("2:00", "100")]))
    assert DayCurve.objects.get().curve().full_hours == 4


def test_row_written_last_finds_its_place(as_user, owner, tank):
    as_user(owner).post(new_url(tank), typed([*TRAPEZOID, ("14:00", "80")]))
    assert [p[0] for p in DayCurve.objects.get().points] == [480, 600, 840, 1080, 1200]


def test_more_rows_and_taken_out_rows(as_user, owner, tank):
    data = typed(TRAPEZOID, do="more", **{"point-1-DELETE": "on"})
    page = as_user(owner).post(new_url(tank), data)
    assert page.status_code == 200 and not DayCurve.objects.exists()
    values = [form["at"].value() for form in page.context["rows"].forms]
    assert values == ["08:00", "18:00", "20:00", None, None]


@pytest.mark.parametrize(
    ("shape", "asked", "points"),
    [
        ("mirror", {}, [[480, 0], [960, 100], [1140, 50], [1200, 0]]),
        ("shift", {"shift": "-90"}, [[390, 0], [450, 50], [630, 100], [1110, 0]]),
        ("stretch", {"stretch": "50 %"}, [[660, 0], [690, 50], [780, 100], [1020, 0]]),
    ],
)
def test_day_is_shaped_and_not_saved(as_user, owner, tank, shape, asked, points):
    rows = [("8:00", "0"), ("9:00", "50"), ("12:00", "100"), ("20:00", "0")]
    response = as_user(owner).post(new_url(tank), typed(rows, do=shape, **asked))
    assert response.status_code == 200 and not DayCurve.objects.exists()
    told = [(f["at"].value(), f["level"].value()) for f in response.context["rows"].forms[:4]]
    assert told == [(clock_text(m), f"{level:g}") for m, level in points]
    assert "Not saved yet" in response.content.decode()


def test_day_is_scaled_to_a_wanted_daily_light(as_user, owner, tank):
    # Ten hours of full level at PAR 200 are 7.2 mol; half of it is half of every level.
    data = typed(TRAPEZOID, do="scale", wanted_dli="3,6", at_par="200")
    response = as_user(owner).post(new_url(tank), data)
    assert [f["level"].value() for f in response.context["rows"].forms[:4]] == [
        "0", "50", "50", "0",
    ]  # fmt: skip


def test_scaling_without_a_par_says_what_is_missing(as_user, owner, tank):
    response = as_user(owner).post(new_url(tank), typed(TRAPEZOID, do="scale", wanted_dli="5"))
    assert response.status_code == 422 and "Say the PAR of the spot" in response.content.decode()


def test_day_is_scaled_to_a_coral(as_user, owner, tank):
    make_lit_survey(tank)
    make_coral(tank, name="Cream stag")
    page = as_user(owner).get(new_url(tank))
    assert "Cream stag" in page.content.decode()
    data = typed(TRAPEZOID, do="scale", wanted_dli="2", spot="0")
    said = as_user(owner).post(new_url(tank), data).context["said"]
    assert "2 mol/m² a day at Cream stag" in said


def test_figures_come_alone_to_a_page_that_asks(as_user, owner, tank):
    client = as_user(owner)
    response = client.post(
        new_url(tank), typed(TRAPEZOID, do="look"), headers={"HX-Request": "true"}
    )
    page = response.content.decode()
    assert "<html" not in page and "08:00–20:00" in page and "10 h" in page
    broken = client.post(
        new_url(tank), typed([("x", "1")], do="look"), headers={"HX-Request": "true"}
    )
    assert "can be read yet" in broken.content.decode()


def test_copy_has_a_name_of_its_own(as_user, owner, tank):
    curve = make_day_curve(tank)
    as_user(owner).post(url("copy", curve))
    assert sorted(DayCurve.objects.values_list("name", flat=True)) == [
        "Summer day", "Summer day, copy",
    ]  # fmt: skip


def test_removed_curve_comes_back(as_user, owner, tank):
    curve, client = make_day_curve(tank), as_user(owner)
    page = client.post(url("remove", curve), follow=True).content.decode()
    assert url("restore", curve) in page and not DayCurve.objects.present().exists()
    client.post(url("restore", curve))
    assert DayCurve.objects.present().get() == curve


@pytest.mark.parametrize(
    ("text", "minute"),
    [("8", 480), ("08:30", 510), ("20.15", 1215), ("8:30 pm", 1230), ("12 am", 0), ("24:00", 1440)],
)
def test_clock_is_read_as_people_write_it(text, minute):
    assert parse_clock(text) == minute


@pytest.mark.parametrize("text", ["24:30", "8:75", "noon", "13 pm", "-1", "1e3"])
def test_nonsense_is_no_clock(text):
    with pytest.raises(ValidationError):
        parse_clock(text)


def test_points_that_ascend_stay_as_typed():
    timer = [[480, 100], [1320, 100]]
    assert in_order(timer) == timer


@pytest.mark.parametrize(
    "points", [[], [[480, 0]], [[480]], "x", [[480, 0], [1500, 1]], [[480, None], [500, 0]]]
)
def test_points_that_make_no_day_are_refused(tank, points):
    curve = DayCurve(tank=tank, name="Odd", points=points)
    with pytest.raises(ValidationError):
        curve.full_clean()


# --- What runs -------------------------------------------------------------------------------


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
    log = as_user(owner).get(list_url(tank)).content.decode()
    assert "Day curve “Summer day”" in log and "hours at the day’s peak" in log


def test_start_in_the_future_is_refused(as_user, owner, tank):
    ahead = (NOW + dt.timedelta(days=2)).strftime("%Y-%m-%dT%H:%M")
    response = as_user(owner).post(url("start", make_day_curve(tank)), {"happened_at": ahead})
    assert response.status_code == 422 and "future" in response.content.decode()


def test_reshaping_a_curve_does_not_rewrite_what_was(as_user, owner, tank):
    started(tank, days_ago(9))
    curve = DayCurve.objects.get()
    as_user(owner).post(url("edit", curve), typed([("8", "100"), ("9", "100")]))
    assert light_history(tank).schedule_at(NOW).full_hours == 10
    page = as_user(owner).get(url("detail", curve)).content.decode()
    assert "with other points than these" in page


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
    log = as_user(owner).get(list_url(tank)).content.decode()
    assert "Moon" in log and "9 hours of light a day" in log


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
    ((_, found),) = light_history(tank).day_pieces(day, tank.zone)
    assert found == pytest.approx(hours, abs=1e-12)


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
