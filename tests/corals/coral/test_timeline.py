"""A coral's light over time: known truths through changes, moves, surveys and gaps."""

import datetime as dt

import pytest
from django.utils import timezone

from apps.corals.coral.event_rows import MARKS_MAX
from apps.corals.coral.timeline import coral_timeline
from apps.corals.models import HealthNote
from apps.lighting.models import LightChange
from apps.lightmap.lightmap import tank_light
from tests.factories import make_coral, make_light_change, make_note, make_survey

NOW = timezone.now()


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def timeline_of(coral, *, notes=()):
    return coral_timeline(coral, tank_light(coral.tank), list(notes), now=NOW)


def coral_since(tank, days, **overrides):
    return make_coral(tank, since=tank.today() - dt.timedelta(days=days), **overrides)


def row(timeline, kind):
    (result,) = (r for r in timeline.rows if r.kind == kind)
    return result


def test_no_survey_gives_no_plot_but_keeps_the_notes(tank):
    coral = coral_since(tank, 60)
    result = timeline_of(coral, notes=[make_note(coral)])
    assert result.light is None
    assert len(row(result, "note-paling").marks) == 1
    assert "1 health note" in result.summary and "PAR" not in result.summary


def test_no_spot_gives_no_light_at_any_time(tank):
    make_survey(tank, taken_at=days_ago(30))
    result = timeline_of(coral_since(tank, 60, at_cm=None))
    assert result.light is None and {s.light for s in result.steps} == {None}


def test_light_starts_with_the_first_spot(tank):
    make_survey(tank, taken_at=days_ago(90))
    coral = coral_since(tank, 60, at_cm=None)
    coral.spots.create(x_cm=30, y_cm=30, depth_cm=25, since=tank.today() - dt.timedelta(days=20))
    dark, lit = timeline_of(coral).steps
    assert dark.light is None and lit.light.par_umol > 0
    assert dark.end == lit.start and lit.start.date() == tank.today() - dt.timedelta(days=20)


def test_factors_of_two_changes_multiply(tank):
    make_survey(tank, taken_at=days_ago(90))
    make_light_change(tank, happened_at=days_ago(40), factor=0.8)
    make_light_change(tank, happened_at=days_ago(20), factor=1.5)
    pars = [s.light.par_umol for s in timeline_of(coral_since(tank, 60)).steps]
    assert [p / pars[0] for p in pars] == pytest.approx([1, 0.8, 1.2])


def test_change_before_the_coral_came_cuts_nothing(tank):
    make_survey(tank, taken_at=days_ago(90))
    make_light_change(tank, happened_at=days_ago(80), factor=0.8)
    result = timeline_of(coral_since(tank, 60))
    assert len(result.steps) == 1 and result.verticals == ()


def test_new_survey_takes_over_from_its_moment(tank):
    make_survey(tank, taken_at=days_ago(90))
    second = make_survey(tank, taken_at=days_ago(30))
    before, after = timeline_of(coral_since(tank, 60)).steps
    assert after.light.survey_pk == second.pk and after.start == second.taken_at
    assert before.light.survey_pk != second.pk


def test_time_before_the_only_survey_is_worked_back_and_drawn_broken(tank):
    make_survey(tank, taken_at=days_ago(10))
    make_light_change(tank, happened_at=days_ago(30), factor=2.0)
    result = timeline_of(coral_since(tank, 60))
    first, between, after = result.steps
    assert first.light.par_umol == pytest.approx(after.light.par_umol / 2)
    assert [s.light.measured_later for s in result.steps] == [True, True, False]
    assert result.light.reckoned and result.light.measured
    assert "worked back" in between.rests_on and "measured" in after.rests_on


def test_steps_fill_the_axis_without_gap_or_overlap(tank):
    make_survey(tank, taken_at=days_ago(50))
    for n in (45, 33, 21):
        make_light_change(tank, happened_at=days_ago(n))
    coral = coral_since(tank, 60)
    coral.spots.create(x_cm=5, y_cm=5, depth_cm=40, since=tank.today() - dt.timedelta(days=33))
    result = timeline_of(coral)
    ends = [result.axis.start, *(s.end for s in result.steps)]
    assert [s.start for s in result.steps] == ends[:-1] and ends[-1] == result.axis.end


def test_dli_needs_a_schedule_and_is_par_times_its_hours(tank):
    make_survey(tank, taken_at=days_ago(90))
    make_light_change(tank, happened_at=days_ago(30), factor=1.0, day_hours=10, ramp_hours=1)
    before, after = (s.light for s in timeline_of(coral_since(tank, 60)).steps)
    assert before.dli_mol is None
    # 10 h with 1 h ramps are worth 9 h of full light; 3600 s an hour, 1e6 umol a mol.
    assert after.dli_mol == pytest.approx(after.par_umol * 9 * 3600 / 1e6)


def test_daily_light_is_drawn_where_the_hours_are_known_else_par(tank):
    make_survey(tank, taken_at=days_ago(90))
    coral = coral_since(tank, 60)
    make_light_change(tank, happened_at=days_ago(30), factor=1.0, day_hours=10, ramp_hours=1)
    assert timeline_of(coral).light.key == "par"
    make_light_change(tank, happened_at=days_ago(80), factor=1.0, day_hours=8, ramp_hours=1)
    assert timeline_of(coral).light.key == "dli"


def test_band_of_daily_light_follows_the_hours(tank):
    make_survey(tank, taken_at=days_ago(90))
    make_light_change(tank, happened_at=days_ago(80), factor=1.0, day_hours=11, ramp_hours=1)
    coral = coral_since(tank, 60, band_low_umol=100, band_high_umol=200)
    ends = {end.text for end in timeline_of(coral).light.ends if end.kind == "wanted"}
    # 10 h of full light: PAR 100 is 3.6 mol/m2 a day.
    assert ends == {"from 3.6", "up to 7.2"}


def test_light_plot_begins_where_its_values_do(tank):
    make_survey(tank, taken_at=days_ago(90))
    coral = coral_since(tank, 60, band_low_umol=200, band_high_umol=220)
    par = timeline_of(coral).steps[0].light
    labels = [float(tick.label) for tick in timeline_of(coral).light.ticks]
    lowest = min(par.low_umol, 200)
    assert 0 < min(labels) <= lowest or lowest < 2 * (labels[1] - labels[0])


def test_colour_by_eye_is_drawn_where_no_photo_is_measured(tank):
    coral = coral_since(tank, 60)
    notes = [
        make_note(coral, condition=condition, noted_on=tank.today() - dt.timedelta(days=days))
        for condition, days in ((5, 40), (3, 5))
    ]
    colour = timeline_of(coral, notes=notes).colour
    assert colour.key == "condition" and colour.dots.count("M") == 2
    assert [end.text for end in colour.ends] == ["thriving", "poor", "failing"]


def test_plots_lie_below_each_other(tank):
    make_survey(tank, taken_at=days_ago(50))
    coral = coral_since(tank, 60)
    notes = [make_note(coral, condition=4), make_note(coral, condition=5)]
    result = timeline_of(coral, notes=notes)
    tops = result.tops
    assert tops.light + result.light.height < tops.colour_name < tops.colour
    assert tops.colour + result.colour.height < tops.rows < tops.axis < tops.height


def test_coral_of_today_has_four_weeks_of_axis(tank):
    result = timeline_of(coral_since(tank, 0))
    assert result.axis.end - result.axis.start == dt.timedelta(days=28)


def test_axis_of_a_coral_that_is_gone_ends_on_its_day(tank):
    coral = coral_since(tank, 60, gone_on=tank.today() - dt.timedelta(days=10))
    assert timeline_of(coral).axis.end.date() == tank.today() - dt.timedelta(days=9)


def test_note_older_than_the_coral_widens_the_axis(tank):
    coral = coral_since(tank, 40)
    note = make_note(coral, noted_on=tank.today() - dt.timedelta(days=50))
    assert timeline_of(coral, notes=[note]).axis.start.date() == note.noted_on


def test_first_spot_is_no_move(tank):
    make_survey(tank, taken_at=days_ago(90))
    coral = coral_since(tank, 60)
    assert "move" not in {r.kind for r in timeline_of(coral).rows}
    coral.spots.create(x_cm=5, y_cm=5, depth_cm=40, since=tank.today() - dt.timedelta(days=20))
    assert len(row(timeline_of(coral), "move").marks) == 1


@pytest.mark.parametrize("seen", HealthNote.Seen.values)
def test_every_kind_of_note_has_its_own_shape(tank, seen):
    coral = coral_since(tank, 60)
    others = [make_note(coral, seen=other) for other in HealthNote.Seen.values]
    shapes = [r.shape for r in timeline_of(coral, notes=others).rows]
    here = row(timeline_of(coral, notes=others), f"note-{seen}")
    assert shapes.count(here.shape) == 1


def test_note_of_two_signs_stands_in_both_rows(tank):
    coral = coral_since(tank, 60)
    timeline = timeline_of(coral, notes=[make_note(coral, seen="paling", also_seen=["growth"])])
    assert [len(row(timeline, f"note-{sign}").marks) for sign in ("paling", "growth")] == [1, 1]


def test_rows_do_not_lie_on_each_other(tank):
    coral = coral_since(tank, 60)
    notes = [make_note(coral, seen=seen) for seen in HealthNote.Seen]
    tops = [r.top for r in timeline_of(coral, notes=notes).rows]
    assert tops == sorted(set(tops)) and len(tops) == len(HealthNote.Seen)


@pytest.mark.parametrize("number", [MARKS_MAX, MARKS_MAX + 1, 41, 300])
def test_many_changes_are_drawn_legibly(tank, number):
    coral = coral_since(tank, 400)
    make_survey(tank, taken_at=days_ago(390))
    for k in range(number):
        make_light_change(tank, happened_at=days_ago(380) + dt.timedelta(days=370 * k / number))
    result = timeline_of(coral)
    drawn = row(result, "light")
    lines = [line for line in result.verticals if line.kind == "light"]
    assert drawn.entries == number and len(lines) == len(drawn.marks) <= MARKS_MAX
    assert drawn.is_joined == (number > MARKS_MAX)
    assert any(mark.label.endswith("entries") for mark in drawn.marks) == drawn.is_joined


def many_changes(tank, count, days):
    """Log so many changes of light, spread evenly over the last days."""
    LightChange.objects.bulk_create(
        LightChange(tank=tank, happened_at=days_ago(days * (n + 0.5) / count), summary="Dimmed")
        for n in range(count)
    )


@pytest.mark.parametrize(("count", "shown"), [(400, "all"), (401, "1 year")])
def test_long_log_shows_what_can_be_told_apart(tank, count, shown):
    coral = coral_since(tank, 720)
    many_changes(tank, count, 700)
    choices = timeline_of(coral).stretch.choices
    assert [choice.label for choice in choices if choice.chosen] == [shown]


def test_all_of_a_long_log_is_shown_when_asked_for(tank):
    coral = coral_since(tank, 720)
    many_changes(tank, 401, 700)
    result = coral_timeline(coral, tank_light(tank), [], now=NOW, query={"days": "all"})
    assert len(result.steps) == 402
