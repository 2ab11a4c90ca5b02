"""A tank's surveys: list, head, page of one, file, remove and undo."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.surveys.models import Survey
from apps.surveys.recording import rows_of
from tests.factories import (
    hang,
    make_light_change,
    make_meter,
    make_survey,
    make_tank,
    make_user,
)
from tests.surveys.bad_rows import BAD_DATES

HEAD = {"taken_at": "2026-03-01T14:30", "meter": "", "level_percent": "80", "notes": "Calm."}


@pytest.fixture
def survey(tank):
    return make_survey(tank)


def new(client, tank, **changes):
    return client.post(reverse("survey_new", args=[tank.pk]), HEAD | changes)


def test_list_tells_each_survey(as_user, owner, tank):
    make_survey(tank, meter=make_meter(owner), level_percent=80, light_note="pumps off")
    page = as_user(owner).get(reverse("survey_list", args=[tank.pk])).content.decode()
    for words in ("Club meter", "80&nbsp;%", "pumps off", "27 readings", "?survey="):
        assert words in page


def test_list_asks_the_database_alike_for_few_and_many(
    as_user, owner, tank, django_assert_max_num_queries
):
    for _ in range(30):
        make_survey(tank, readings=[], meter=make_meter(owner))
    client = as_user(owner)
    with django_assert_max_num_queries(12):
        client.get(reverse("survey_list", args=[tank.pk]))


def test_new_survey_is_dated_by_the_clock_at_the_tank(as_user, owner, tank):
    tank.time_zone = "America/New_York"
    tank.save()
    new(as_user(owner), tank)
    assert Survey.objects.get().taken_at == dt.datetime(2026, 3, 1, 19, 30, tzinfo=dt.UTC)


def test_new_survey_leads_to_its_readings(as_user, co_keeper, tank):
    response = new(as_user(co_keeper), tank)
    survey = Survey.objects.get()
    assert response["Location"] == reverse("survey_plan", args=[survey.pk])
    assert survey.created_by == co_keeper


def test_new_survey_copies_the_meters_factor(as_user, owner, tank):
    new(as_user(owner), tank, meter=make_meter(owner, correction_factor=1.25).pk)
    assert Survey.objects.get().correction_factor == 1.25


def test_somebody_elses_meter_cannot_be_picked(as_user, owner, tank):
    response = new(as_user(owner), tank, meter=make_meter(make_user()).pk)
    assert response.status_code == 422


@pytest.mark.parametrize(("date", "problem"), BAD_DATES)
def test_bad_date_is_told_and_the_rest_kept(as_user, owner, tank, date, problem):
    response = new(as_user(owner), tank, taken_at=date)
    page = response.content.decode()
    assert response.status_code == 422 and problem in page and "Calm." in page


def test_htmx_gets_the_form_alone(as_user, owner, tank):
    client = as_user(owner)
    url = reverse("survey_new", args=[tank.pk])
    bad = client.post(url, HEAD | {"level_percent": "200"}, headers={"HX-Request": "true"})
    assert bad.status_code == 422 and b"<html" not in bad.content
    good = client.post(url, HEAD, headers={"HX-Request": "true"})
    assert good["HX-Redirect"] == reverse("survey_plan", args=[Survey.objects.get().pk])


def test_edit_keeps_the_factor_until_asked(as_user, owner, tank):
    meter = make_meter(owner, correction_factor=1.3)
    survey = make_survey(tank, meter=meter, correction_factor=1.1)
    client, url = as_user(owner), reverse("survey_edit", args=[survey.pk])
    client.post(url, HEAD | {"meter": meter.pk})
    survey.refresh_from_db()
    assert survey.correction_factor == 1.1
    client.post(url, HEAD | {"meter": meter.pk, "take_factor": "on"})
    survey.refresh_from_db()
    assert survey.correction_factor == 1.3


def test_edit_to_no_meter_leaves_readings_as_read(as_user, owner, tank):
    meter = make_meter(owner, correction_factor=1.3)
    survey = make_survey(tank, meter=meter, correction_factor=1.3)
    as_user(owner).post(reverse("survey_edit", args=[survey.pk]), HEAD)
    survey.refresh_from_db()
    assert (survey.meter, survey.correction_factor) == (None, 1.0)


def test_corrected_par_stands_beside_the_raw_value(as_user, viewer, tank):
    survey = make_survey(tank, correction_factor=1.5, readings=[(10, 10, 10, 100)])
    page = as_user(viewer).get(reverse("survey_detail", args=[survey.pk])).content.decode()
    assert '<td class="number">100</td>' in page and '<td class="number">150</td>' in page


def test_lengths_are_in_the_keepers_unit(as_user, owner, tank):
    owner.units = "in"
    owner.save()
    survey = make_survey(tank, readings=[(25.4, 50.8, 5.08, 100)])
    page = " ".join(
        as_user(owner).get(reverse("survey_detail", args=[survey.pk])).content.decode().split()
    )
    cells = '<td class="number">10</td><td class="number">20</td><td class="number">2</td>'
    assert cells in page


def test_export_holds_the_raw_values_in_cm(as_user, viewer, tank):
    survey = make_survey(tank, correction_factor=1.5, readings=[(10, 8.25, 5, 180)])
    response = as_user(viewer).get(reverse("survey_export", args=[survey.pk]))
    assert response.content == b"x_cm,y_cm,depth_cm,par\r\n10,8.25,5,180\r\n"
    assert "attachment" in response["Content-Disposition"]


def test_removed_survey_comes_back_by_undo_with_its_readings(as_user, co_keeper, tank, survey):
    client = as_user(co_keeper)
    page = client.post(reverse("survey_remove", args=[survey.pk]), follow=True).content.decode()
    undo = reverse("survey_restore", args=[survey.pk])
    assert undo in page and "27 readings" not in page
    assert client.get(reverse("survey_detail", args=[survey.pk])).status_code == 404
    client.post(undo)
    assert len(rows_of(Survey.objects.visible_to(co_keeper).get())) == 27


READS = ["survey_detail", "survey_export"]
WRITES = ["survey_edit", "survey_remove", "survey_restore", "survey_readings", "survey_import"]


@pytest.mark.parametrize("name", READS)
@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_those_let_in_read(request, as_user, survey, name, who):
    client = as_user(request.getfixturevalue(who))
    assert client.get(reverse(name, args=[survey.pk])).status_code == 200


@pytest.mark.parametrize("name", [*WRITES, "survey_readings_undo"])
def test_viewer_may_not_write(as_user, viewer, survey, name):
    if name == "survey_restore":
        survey.remove()
    more = [0] if name == "survey_readings_undo" else []
    url = reverse(name, args=[survey.pk, *more])
    assert as_user(viewer).post(url).status_code == 403


@pytest.mark.parametrize("name", [*READS, *WRITES, "survey_readings_undo"])
def test_nothing_is_there_for_a_stranger(as_user, stranger, survey, name):
    if name == "survey_restore":
        survey.remove()
    more = [0] if name == "survey_readings_undo" else []
    url = reverse(name, args=[survey.pk, *more])
    client = as_user(stranger)
    assert (client.get if name in READS else client.post)(url).status_code == 404


def test_viewer_is_shown_no_way_to_write(as_user, viewer, tank, survey):
    client = as_user(viewer)
    pages = [reverse("survey_list", args=[tank.pk]), reverse("survey_detail", args=[survey.pk])]
    for page in pages:
        assert reverse("survey_readings", args=[survey.pk]) not in client.get(page).content.decode()
    assert client.get(reverse("survey_new", args=[tank.pk])).status_code == 403


def test_future_survey_is_refused_by_the_model(tank):
    with pytest.raises(Exception, match="in the future"):
        Survey(tank=tank, taken_at=timezone.now() + dt.timedelta(hours=1)).full_clean()


# --- The share of the day's peak ------------------------------------------------------------------


def detail(client, survey):
    page = client.get(reverse("survey_detail", args=[survey.pk])).content.decode()
    return " ".join(page.split())


def test_readings_are_shown_as_typed_and_as_the_map_takes_them(as_user, owner, tank):
    survey = make_survey(tank, level_percent=50, readings=[(10, 10, 10, 123)])
    page = detail(as_user(owner), survey)
    assert ">123<" in page and ">246<" in page and "× 2" in page


def test_level_of_a_fixture_given_as_share_of_the_peak_is_doubted(as_user, owner, tank):
    hang(make_light_change(tank), level_percent=60)
    doubted, sound = make_survey(tank, level_percent=60), make_survey(tank, level_percent=80)
    client = as_user(owner)
    pages = [client.get(reverse("survey_detail", args=[s.pk])) for s in (doubted, sound)]
    stated = pages[0].context["same_level"]
    assert stated and "60&nbsp;%" in detail(client, doubted)
    assert not pages[1].context["same_level"]


# --- Moments --------------------------------------------------------------------------------------


def berlin(tank):
    tank.time_zone = "Europe/Berlin"
    tank.save()
    return tank


def test_moment_is_told_by_the_clock_at_the_tank(as_user, owner, tank):
    taken = dt.datetime(2026, 7, 1, 12, 0, tzinfo=dt.UTC)
    page = detail(as_user(owner), make_survey(berlin(tank), taken_at=taken))
    assert "1 Jul 2026, 14:00" in page


def head_at(moment):
    return HEAD | {"taken_at": moment, "level_percent": "100"}


@pytest.mark.parametrize(("clock", "hour"), [("120", 0), ("60", 1)])
def test_hour_that_comes_twice_is_the_chosen_one(as_user, owner, tank, clock, hour):
    head = head_at("2025-10-26T02:30") | {"taken_at_clock": clock}
    as_user(owner).post(reverse("survey_new", args=[berlin(tank).pk]), head)
    assert tank.surveys.get().taken_at == dt.datetime(2025, 10, 26, hour, 30, tzinfo=dt.UTC)


def test_hour_that_comes_twice_is_asked_about(as_user, owner, tank):
    response = as_user(owner).post(
        reverse("survey_new", args=[berlin(tank).pk]), head_at("2025-10-26T02:30")
    )
    page = response.content.decode()
    assert response.status_code == 422 and 'name="taken_at_clock"' in page and "CEST" in page


def test_hour_that_never_was_is_refused(as_user, owner, tank):
    response = as_user(owner).post(
        reverse("survey_new", args=[berlin(tank).pk]), head_at("2026-03-29T02:30")
    )
    assert response.status_code == 422 and "no such time" in response.content.decode()


@pytest.mark.parametrize(
    "taken",
    [
        dt.datetime(2025, 10, 26, 1, 30, tzinfo=dt.UTC),  # the later of the two half past twos
        dt.datetime(2026, 3, 1, 14, 30, 42, 17, tzinfo=dt.UTC),
    ],
)
def test_moment_left_alone_stays_to_the_second(as_user, owner, tank, taken):
    survey = make_survey(berlin(tank), taken_at=taken)
    client, url = as_user(owner), reverse("survey_edit", args=[survey.pk])
    shown = client.get(url).context["form"]["taken_at"]
    typed = shown.field.widget.format_value(shown.value())
    client.post(url, HEAD | {"taken_at": typed, "notes": "New words."})
    survey.refresh_from_db()
    assert survey.taken_at == taken and survey.notes == "New words."


# --- Meter just made ------------------------------------------------------------------------------


def test_meter_described_for_a_survey_is_chosen_there(as_user, owner, tank):
    client = as_user(owner)
    made = client.post(
        reverse("meter_new") + f"?for={tank.pk}",
        {"label": "Loan", "kind": "quantum", "correction_factor": "1.2"},
    )
    page = client.get(made["Location"])
    meter = owner.meters.get()
    assert page.context["form"].initial["meter"] == meter.pk
    client.post(made["Location"], HEAD | {"meter": meter.pk})
    assert tank.surveys.get().correction_factor == pytest.approx(1.2)


def test_meter_of_another_keeper_is_not_chosen(as_user, owner, tank, stranger):
    foreign = make_meter(stranger)
    page = as_user(owner).get(reverse("survey_new", args=[tank.pk]) + f"?meter={foreign.pk}")
    assert page.context["form"].initial["meter"] is None


# --- Bringing back --------------------------------------------------------------------------------


def test_survey_that_no_longer_fits_the_tank_is_not_brought_back(as_user, owner, tank):
    survey = make_survey(tank)
    survey.remove()
    tank.depth_cm = 20
    tank.save()
    page = as_user(owner).post(reverse("survey_restore", args=[survey.pk]), follow=True)
    survey.refresh_from_db()
    assert survey.removed_at and "outside the water" in page.content.decode()


def test_a_survey_goes_only_after_a_question_that_tells_what_goes_along(as_user, owner, survey):
    url = reverse("survey_remove", args=[survey.pk])
    page = as_user(owner).get(url)
    assert page.context["contents"] == [(27, "readings")] and page.context["is_last"]
    assert not Survey.objects.get().removed_at
    detail = as_user(owner).get(reverse("survey_detail", args=[survey.pk])).content.decode()
    assert f'href="{url}"' in detail


def new_form(client, tank, **query):
    return client.get(reverse("survey_new", args=[tank.pk]), query).context["form"]


def test_new_survey_has_the_meter_used_last_in_the_tank(as_user, owner, tank):
    client, other = as_user(owner), make_tank(owner)
    here, elsewhere = make_meter(owner, label="here"), make_meter(owner, label="elsewhere")
    assert new_form(client, tank)["meter"].value() is None
    make_survey(other, meter=elsewhere, created_by=owner)
    assert new_form(client, tank)["meter"].value() == elsewhere.pk
    make_survey(tank, meter=here, created_by=owner, taken_at=timezone.now() - dt.timedelta(days=90))
    assert new_form(client, tank)["meter"].value() == here.pk


def test_a_friends_meter_is_not_chosen_by_itself(as_user, owner, co_keeper, tank):
    make_survey(tank, meter=make_meter(owner), created_by=owner)
    assert new_form(as_user(co_keeper), tank)["meter"].value() is None


def test_a_meter_just_made_comes_before_the_one_used_last(as_user, owner, tank):
    make_survey(tank, meter=make_meter(owner, label="old"), created_by=owner)
    made = make_meter(owner, label="made")
    assert new_form(as_user(owner), tank, meter=made.pk)["meter"].value() == made.pk


@pytest.mark.parametrize(
    ("changes", "is_unusual"),
    [
        ({}, False),
        ({"level_percent": 100.0}, False),
        ({"level_percent": 80.0}, True),
        ({"notes": "cloudy"}, True),
        ({"levels": {"blue": 80.0}}, True),
        ({"hours_on": 3.0}, True),
        ({"spectral_factor": 1.05}, True),
    ],
)
def test_what_is_unusual_of_a_survey_lies_open(as_user, owner, tank, changes, is_unusual):
    survey = make_survey(tank, **changes)
    form = as_user(owner).get(reverse("survey_edit", args=[survey.pk])).context["form"]
    assert form.is_unusual == is_unusual


def test_what_is_wrong_among_the_unusual_lies_open(as_user, owner, tank):
    answer = new(as_user(owner), tank, level_percent="bright")
    assert answer.status_code == 422 and answer.context["form"].is_unusual
