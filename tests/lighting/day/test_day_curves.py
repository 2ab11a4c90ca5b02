"""Day curves: who may, what is kept and what is refused."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from apps.lighting.day.forms import clock_text, in_order, parse_clock
from apps.lighting.models import DayCurve, LightChange
from tests.factories import make_coral, make_day_curve, make_lit_survey

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
    curve = make_day_curve(tank)
    page = as_user(viewer).get(url("detail", curve)).content.decode()
    for name in ("start", "copy", "edit"):
        assert url(name, curve) not in page


# --- The form --------------------------------------------------------------------------------


def test_wrong_cells_are_told_there_and_all_typed_is_kept(as_user, owner, tank):
    response = as_user(owner).post(new_url(tank), typed([("8:75", "0"), ("10", "120")]))
    page = response.content.decode()
    assert response.status_code == 422 and not DayCurve.objects.exists()
    # Two boxes share a line, so each error says which one it means.
    assert 'id="id_point-0-at_error">Time:' in page
    assert 'id="id_point-1-level_error">Level:' in page
    assert 'value="8:75"' in page and 'value="120"' in page and 'value="Summer"' in page


def test_night_must_be_dark(as_user, owner, tank):
    around = [("0:00", "3"), ("24:00", "3")]
    response = as_user(owner).post(new_url(tank), typed(around))
    assert response.status_code == 422
    assert response.context["form"].non_field_errors()
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
    stated = [(f["at"].value(), f["level"].value()) for f in response.context["rows"].forms[:4]]
    assert stated == [(clock_text(m), f"{level:g}") for m, level in points]
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
    assert response.status_code == 422 and list(response.context["shape"].errors) == ["at_par"]


def test_day_is_scaled_to_a_coral(as_user, owner, tank):
    make_lit_survey(tank)
    make_coral(tank, name="Cream stag")
    page = as_user(owner).get(new_url(tank))
    assert "Cream stag" in page.content.decode()
    data = typed(TRAPEZOID, do="scale", wanted_dli="2", spot="0")
    said = as_user(owner).post(new_url(tank), data).context["said"]
    assert "2\u00a0mol" in said and "Cream stag" in said


def test_figures_come_alone_to_a_page_that_asks(as_user, owner, tank):
    client = as_user(owner)
    response = client.post(
        new_url(tank), typed(TRAPEZOID, do="look"), headers={"HX-Request": "true"}
    )
    page = response.content.decode()
    assert "<html" not in page and "08:00–20:00" in page and "10&nbsp;h" in page
    broken = client.post(
        new_url(tank), typed([("x", "1")], do="look"), headers={"HX-Request": "true"}
    )
    assert broken.context["look_problems"] and "figures" not in broken.context


def test_copy_has_a_name_of_its_own(as_user, owner, tank):
    curve = make_day_curve(tank)
    as_user(owner).post(url("copy", curve))
    assert sorted(DayCurve.objects.values_list("name", flat=True)) == [
        "Summer day", "Summer day (copy)",
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
