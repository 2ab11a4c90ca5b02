"""Light before the meter: a map by stated outputs, marked so, which a few readings narrow."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.models import HungFixture
from apps.lightmap.lightmap import tank_light
from apps.lightmap.page.map_page import map_page
from apps.lightmap.page.query import MapQuery
from apps.lightmap.stated_outputs import (
    OutputSource,
    ReadTank,
    measured_elsewhere,
    source_of,
)
from apps.photics.rig.fixture_light import output_estimate
from apps.tanks.models import Tank
from reeflog.demo_light import true_par
from tests.factories import (
    grid_readings,
    hang,
    make_coral,
    make_fixture,
    make_light_change,
    make_lit_survey,
    make_meter,
    make_survey,
    make_tank,
)

NOW = timezone.now()
PLACES = [(20.0, 20.0, 12.0), (40.0, 42.0, 28.0), (30.0, 30.0, 40.0)]


def days_ago(days):
    return NOW - dt.timedelta(days=days)


def lit(tank, **fixture):
    """Hang a panel over a tank ten days ago; return the fixture of the library."""
    made = make_fixture(tank.owner, **fixture)
    hang(make_light_change(tank, happened_at=days_ago(10)), made)
    return made


@pytest.fixture
def rated(tank):
    lit(tank, ppf_umol_s=120)
    return tank


def spots(tank, moment=NOW):
    return tank_light(tank).at(PLACES, moment)


def width(light):
    return np.mean([np.log(one.high_umol / one.low_umol) for one in light])


@pytest.mark.parametrize(
    "stated", [{"ppf_umol_s": 120}, {"watts": 80}, {"watts": 80, "efficacy_umol_j": 1.5}]
)
def test_a_stated_output_gives_light_that_is_marked_not_measured(tank, stated):
    lit(tank, **stated)
    light = tank_light(tank)
    assert not light.has_map and light.has_light(NOW)
    for spot in spots(tank):
        assert spot.par_umol > 0 and not spot.measured and not spot.extrapolated


def test_watts_alone_are_less_sure_than_a_rated_output(tank):
    rated, watts = make_tank(tank.owner), make_tank(tank.owner)
    lit(rated, ppf_umol_s=108)
    lit(watts, watts=80)
    by_rated, by_watts = spots(rated), spots(watts)
    np.testing.assert_allclose(*([s.par_umol for s in one] for one in (by_rated, by_watts)))
    assert width(by_rated) < width(by_watts)


def test_a_fixture_of_unknown_output_is_named(as_user, owner, tank):
    lit(tank, name="Old lamp")
    assert spots(tank) == [None] * 3
    page = as_user(owner).get(reverse("light_map", args=[tank.pk]))
    assert "“Old lamp”" in page.context["page"].unread_problem
    assert 'id="unread-problem"' in page.content.decode()


def test_without_fixtures_nothing_is_said_of_light(as_user, owner, tank):
    assert spots(tank) == [None] * 3
    page = as_user(owner).get(reverse("light_map", args=[tank.pk])).context["page"]
    assert page.light is None and page.unread_problem == ""


def test_a_rated_output_entered_later_counts(tank):
    made = lit(tank)
    assert spots(tank) == [None] * 3
    made.ppf_umol_s = 120
    made.save()
    assert all(spot.par_umol > 0 for spot in spots(tank))


def test_a_level_turned_down_is_followed(rated):
    full = [s.par_umol for s in spots(rated)]
    change = make_light_change(rated, happened_at=days_ago(2), factor=1, reason="level")
    hang(change, rated.owner.fixtures.get(), level_percent=50)
    np.testing.assert_allclose([s.par_umol for s in spots(rated)], np.array(full) / 2, rtol=1e-6)
    np.testing.assert_allclose([s.par_umol for s in spots(rated, days_ago(5))], full)


def test_a_logged_factor_counts_whenever_it_was(rated):
    full = [s.par_umol for s in spots(rated)]
    make_light_change(rated, happened_at=days_ago(3), factor=0.8, reason="other", summary="Salt")
    dimmed = spots(rated)
    np.testing.assert_allclose([s.par_umol for s in dimmed], 0.8 * np.array(full))


def test_another_fixture_gives_by_its_own_output(rated):
    change = make_light_change(rated, happened_at=days_ago(2), factor=1, reason="hung")
    hang(change, make_fixture(rated.owner, name="Twice", ppf_umol_s=240))
    before, after = (np.array([s.par_umol for s in spots(rated, m)]) for m in (days_ago(5), NOW))
    np.testing.assert_allclose(after, 2 * before)


def test_lights_off_is_dark(rated):
    change = make_light_change(rated, happened_at=days_ago(2), factor=1, reason="level")
    hang(change, rated.owner.fixtures.get(), level_percent=0)
    assert [s.par_umol for s in spots(rated)] == [0, 0, 0]


def test_three_readings_narrow_it_and_are_measured(rated):
    unread = spots(rated)
    rows = [(*place, 1.2 * s.par_umol) for place, s in zip(PLACES, unread, strict=True)]
    widths = [width(unread)]
    for count in (1, 2, 3):
        rated.surveys.all().delete()
        make_survey(rated, taken_at=days_ago(1), readings=rows[:count])
        widths.append(width(spots(rated)))
    read = spots(rated)
    assert all(s.measured for s in read) and (np.diff(widths) < 0).all()
    values = [row[3] for row in rows]
    np.testing.assert_allclose([s.par_umol for s in read], values, rtol=0.05)


def test_a_whole_survey_is_fitted_by_its_readings_alone(rated):
    make_survey(rated, taken_at=days_ago(1))
    with_output = [s.par_umol for s in spots(rated)]
    rated.owner.fixtures.update(ppf_umol_s=500)
    assert [s.par_umol for s in spots(rated)] == with_output


def test_readings_that_are_all_zero_leave_the_stated_light(rated):
    make_survey(rated, taken_at=days_ago(1), readings=[(20, 20, 12, 0), (40, 42, 28, 0)])
    assert all(not s.measured for s in spots(rated))


def test_three_readings_without_stated_output_carry_no_map(tank):
    lit(tank)
    make_survey(tank, taken_at=days_ago(1), readings=[(*p, 100) for p in PLACES])
    assert spots(tank) == [None] * 3


def test_output_measured_over_one_tank_serves_the_next(owner, tank):
    """Rated 60, surveyed under 120 in the first tank: the second takes the survey's word."""
    make_lit_survey(tank, ppf_umol_s=120, taken_at=days_ago(5))
    fixture = owner.fixtures.get()
    fixture.ppf_umol_s = 60
    fixture.save()
    known = ReadTank(tank).output_of(fixture.pk).output
    assert known.ppf_umol_s == pytest.approx(120, rel=0.1)
    second = make_tank(owner)
    hang(make_light_change(second, happened_at=days_ago(3)), fixture)
    page = map_page(second, MapQuery(), unit="cm")
    told = page.light.outputs
    assert page.chosen.output_source is OutputSource.MEASURED
    day = ReadTank(tank).output_of(fixture.pk).surveyed_on
    assert len(told) == 1 and f"{day.day} {day:%b %Y}" in told[0] and "Harbour" not in told[0]
    rated = make_tank(owner)
    hang(make_light_change(rated, happened_at=days_ago(3)), make_fixture(owner, ppf_umol_s=60))
    ratio = [a.par_umol / b.par_umol for a, b in zip(spots(second), spots(rated), strict=True)]
    np.testing.assert_allclose(ratio, known.ppf_umol_s / 60, rtol=1e-6)


@pytest.fixture
def four_tanks(owner, tank):
    """Return the fixtures of four read tanks, by the tanks' names in order, the last read first."""
    fixtures = []
    for k in range(4):
        one = tank if k == 0 else make_tank(owner)
        one.name = "ABCE"[k]
        one.save()
        make_lit_survey(one, ppf_umol_s=100 + 10 * k, taken_at=days_ago(9 - k))
        fixtures.append(one.light_changes.get().hung.get().fixture)
    return fixtures


def test_what_else_is_wanted_changes_no_output(owner, four_tanks):
    """The last one is read only over the fourth tank: a plan of all and a map of it agree."""
    together = measured_elsewhere(owner.pk, [f.pk for f in four_tanks])
    alone = [measured_elsewhere(owner.pk, [f.pk])[f.pk] for f in four_tanks]
    assert list(map(together.get, [f.pk for f in four_tanks])) == alone


def test_the_newest_survey_of_a_fixture_counts(owner, four_tanks):
    """Hung over all four, it is what the last survey measured, whatever the tanks are called."""
    shared = four_tanks[0]
    HungFixture.objects.update(fixture=shared)

    def over(one):
        return {shared.pk: ReadTank(one).output_of(shared.pk).output}

    newest = Tank.objects.get(name="E")
    assert measured_elsewhere(owner.pk, [shared.pk]) == over(newest)
    # Not over the plan's own tank, which is known already.
    before = Tank.objects.get(name="C")
    assert measured_elsewhere(owner.pk, [shared.pk], but=newest) == over(before)
    newest.surveys.update(taken_at=days_ago(12))
    assert measured_elsewhere(owner.pk, [shared.pk]) == over(before)


def test_a_lamp_that_moved_on_keeps_what_its_last_survey_measured(owner, tank):
    """Taken down, and the tank surveyed under the next one: the old one goes over a new tank."""
    make_lit_survey(tank, ppf_umol_s=120, taken_at=days_ago(25))
    old = owner.fixtures.get()
    before = measured_elsewhere(owner.pk, [old.pk])
    new = make_light_change(tank, happened_at=days_ago(15), factor=1)
    row = hang(new, make_fixture(owner), number=2)
    places = [r[:3] for r in grid_readings(tank)]
    par = true_par(places, tank=tank.scene(), fixtures=[row.scene()], ppf_umol_s=210)
    make_survey(tank, taken_at=days_ago(5), readings=[
        (*place, round(float(one), 1)) for place, one in zip(places, par, strict=True)
    ])  # fmt: skip
    known = measured_elsewhere(owner.pk, [old.pk, row.fixture_id])
    assert known[old.pk] == before[old.pk]
    assert known[row.fixture_id].ppf_umol_s == pytest.approx(210, rel=0.1)


def test_what_hung_over_a_survey_is_read_once(owner, tank, django_assert_num_queries):
    make_lit_survey(tank, taken_at=days_ago(5))
    read, fixture = ReadTank(tank), owner.fixtures.get()
    assert read.output_of(fixture.pk)
    with django_assert_num_queries(0):
        assert read.output_of(fixture.pk)
        assert read.output_of(fixture.pk + 1) is None


def test_a_light_by_measured_and_stated_outputs_is_said_to_be_by_both(rated):
    stated = output_estimate(ppf_umol_s=120)
    measured = replace(stated, measured=True)
    assert map_page(rated, MapQuery(), unit="cm").chosen.output_source is OutputSource.STATED
    assert source_of([stated, measured]) is OutputSource.BOTH


def test_a_meters_scale_widens_the_output_it_measured(owner, tank):
    survey = make_lit_survey(tank, ppf_umol_s=120, taken_at=days_ago(5))
    fixture = owner.fixtures.get()
    own = ReadTank(tank).output_of(fixture.pk).output
    survey.meter = make_meter(owner, uncertainty_percent=10)
    survey.save()
    wide = ReadTank(tank).output_of(fixture.pk).output
    assert np.log(wide.high_umol_s / wide.ppf_umol_s) == pytest.approx(
        np.hypot(np.log(own.high_umol_s / own.ppf_umol_s), 1.645 * np.log(1.1))
    )


def test_anothers_tank_measures_nothing_for_this_one(owner, stranger, tank):
    make_lit_survey(tank, ppf_umol_s=120, taken_at=days_ago(5))
    foreign = make_tank(stranger)
    fixture = owner.fixtures.get()
    hang(make_light_change(foreign, happened_at=days_ago(3)), fixture)
    assert spots(foreign) == [None] * 3


def test_two_tanks_with_few_readings_do_not_wait_for_each_other(owner, tank):
    fixture = lit(tank, ppf_umol_s=120)
    second = make_tank(owner)
    hang(make_light_change(second, happened_at=days_ago(10)), fixture)
    for one in (tank, second):
        make_survey(one, taken_at=days_ago(1), readings=[(*PLACES[0], 150)])
    assert all(s.measured for one in (tank, second) for s in spots(one))


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_the_map_says_not_measured_to_all_who_may_see_it(request, as_user, rated, who):
    make_coral(rated)
    client, at = as_user(request.getfixturevalue(who)), reverse("light_map", args=[rated.pk])
    for seen in ("above", "side"):
        page = client.get(at, {"seen": seen})
        assert page.status_code == 200 and not page.context["page"].is_measured
        body = page.content.decode()
        assert 'id="not-measured"' in body and body.count("NOT MEASURED") == 1


def test_a_stranger_finds_no_map(as_user, stranger, rated):
    assert as_user(stranger).get(reverse("light_map", args=[rated.pk])).status_code == 404


@pytest.mark.parametrize("name", ["light_map_why", "light_map_next"])
def test_closer_looks_work_before_any_reading(as_user, owner, rated, name):
    url = reverse(name, args=[rated.pk])
    query = {"x": "30", "y": "30", "depth": "20"}
    assert as_user(owner).get(url, query).status_code == 200


def test_the_outputs_stated_are_those_taken(rated):
    (words,) = map_page(rated, MapQuery(), unit="cm").light.outputs
    output = output_estimate(ppf_umol_s=120)
    assert f"120\u00a0µmol/s ({output.low_umol_s:.0f}–{output.high_umol_s:.0f})" in words
