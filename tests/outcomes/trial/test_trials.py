"""Trials: the lot, what is due, the pause, the score, and who may do what."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import HealthNote
from apps.outcomes.models import NOTE_EVERY_DAYS, STARTS, Trial, TrialCoral, draw_place
from apps.outcomes.trial.beginning import begin_trial
from apps.outcomes.trial.reminders import trial_reminders
from apps.outcomes.trial.status import trial_status
from apps.tanks.reminding import reminders_due
from tests.factories import make_coral, make_light_change, make_note, make_survey, make_tank

NOW = timezone.now()
SEEN = HealthNote.Seen


def days_ago(tank, n):
    return tank.today() - dt.timedelta(days=n)


def trial_of(tank, corals, *, began_ago=90, drawn=4, **overrides):
    """Make a trial that began some days ago, with every lot at `drawn`."""
    fields = {
        "question": "less",
        "step": "moved 6 cm down",
        "factor": 0.8,
        "began_on": days_ago(tank, began_ago),
    } | overrides
    trial = Trial.objects.create(tank=tank, **fields)
    for coral in corals:
        TrialCoral.objects.create(trial=trial, coral=coral, drawn=drawn)
    return trial


@pytest.fixture
def lit(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=150))
    return tank


def stepped(trial):
    """Enter the step on the drawn day of the trial's first coral."""
    day = trial.draws.first().starts_on
    noon = dt.datetime.combine(day, dt.time(12), tzinfo=trial.tank.zone)
    make_light_change(trial.tank, happened_at=noon, factor=0.8)


def noted(trial, *, pale_until):
    """Note every coral on every day of the trial: pale before a date, well from it on."""
    for draw in trial.draws.all():
        for day in trial.note_days:
            pale = day < pale_until
            seen, strength = (SEEN.PALING, 3) if pale else (SEEN.WELL, 2)
            make_note(draw.coral, noted_on=day, seen=seen, strength=strength)


def test_lot_may_fall_on_any_day():
    assert {draw_place() for _ in range(500)} == set(range(STARTS))


def test_beginning_draws_a_day_for_each_coral(tank):
    trial = Trial(tank=tank, question="less", step="down", factor=0.8, began_on=tank.today())
    begin_trial(trial=trial, corals=[make_coral(tank), make_coral(tank, name="Other")])
    assert trial.draws.count() == 2
    assert all(draw.starts_on in trial.starts for draw in trial.draws.all())


def test_coral_of_another_tank_is_refused_and_nothing_begins(tank):
    trial = Trial(tank=tank, question="less", step="down", factor=0.8, began_on=tank.today())
    with pytest.raises(ValidationError, match="another tank"):
        begin_trial(trial=trial, corals=[make_coral(make_tank())])
    assert not Trial.objects.exists()


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("factor", 1.2, "below 1"),
        ("factor", 0.1, "0.3"),
        ("began_on", -3, "from today on"),
        ("began_on", 500, "a year from now"),
    ],
)
def test_unsound_trial_is_refused(tank, field, value, words):
    fields = {"question": "less", "step": "down", "factor": 0.8, "began_on": tank.today()}
    fields[field] = days_ago(tank, -value) if field == "began_on" else value
    with pytest.raises(ValidationError, match=words):
        Trial(tank=tank, **fields).full_clean()


def test_step_that_helped_three_corals(lit):
    corals = [make_coral(lit, name=f"Frag {k}") for k in range(3)]
    trial = trial_of(lit, corals)
    stepped(trial)
    # Well again nine days after the step.
    noted(trial, pale_until=trial.draws.first().starts_on + dt.timedelta(days=9))
    found = trial_status(trial)
    assert found.state == "done" and found.score.gain > 2
    assert found.verdict == "The step helped" and found.score.p_better <= 0.05


def test_one_coral_alone_cannot_tell(lit):
    trial = trial_of(lit, [make_coral(lit)])
    stepped(trial)
    noted(trial, pale_until=trial.draws.first().starts_on)
    found = trial_status(trial)
    assert found.verdict == "Cannot tell" and found.score.smallest_p == 1 / 8
    assert "12 times in 100" in found.reason


def test_step_never_made_has_no_score(lit):
    trial = trial_of(lit, [make_coral(lit)])
    noted(trial, pale_until=trial.draws.first().starts_on)
    found = trial_status(trial)
    assert found.verdict == "No score" and "planned step" in found.reason


def test_too_few_notes_have_no_score(lit):
    trial = trial_of(lit, [make_coral(lit)])
    stepped(trial)
    make_note(trial.draws.first().coral, noted_on=trial.began_on)
    found = trial_status(trial)
    assert found.verdict == "No score" and "Too few notes" in found.reason


def test_bleaching_after_the_step_pauses(lit):
    trial = trial_of(lit, [make_coral(lit)], began_ago=40, drawn=0)
    make_note(trial.draws.first().coral, noted_on=days_ago(lit, 5), seen=SEEN.BLEACHING)
    assert trial_status(trial).state == "paused"


def test_bleaching_beside_another_sign_pauses_too(lit):
    trial = trial_of(lit, [make_coral(lit)], began_ago=40, drawn=0)
    coral = trial.draws.first().coral
    make_note(coral, noted_on=days_ago(lit, 5), seen=SEEN.POLYPS_IN, also_seen=[SEEN.BLEACHING])
    assert trial_status(trial).state == "paused"


def test_paling_pauses_only_a_trial_of_more_light(lit):
    coral = make_coral(lit)
    make_note(coral, noted_on=days_ago(lit, 5), seen=SEEN.PALING)
    less = trial_of(lit, [coral], began_ago=40, drawn=0)
    more = trial_of(lit, [coral], began_ago=40, drawn=0, question="more", factor=1.25)
    assert trial_status(less).state == "running"
    assert trial_status(more).state == "paused"


def test_paling_before_the_step_does_not_pause(lit):
    coral = make_coral(lit)
    make_note(coral, noted_on=days_ago(lit, 39))
    trial = trial_of(lit, [coral], began_ago=40, drawn=5, question="more", factor=1.25)
    assert trial_status(trial).state == "running"


def test_next_notes_are_due_on_the_plan(lit):
    trial = trial_of(lit, [make_coral(lit)], began_ago=1)
    assert trial_status(trial).due_on == days_ago(lit, 1 - NOTE_EVERY_DAYS)


def test_day_of_a_step_is_told_at_the_top_until_the_log_shows_it(as_user, owner, lit):
    trial = trial_of(lit, [make_coral(lit, name="Stag")], began_ago=0, drawn=0)
    ahead = trial.draws.get().starts_on - trial.began_on
    trial.began_on -= ahead
    trial.save()
    client, address = as_user(owner), reverse("trial_detail", args=[trial.pk])
    page = client.get(address)
    (row,) = page.context["status"].corals
    assert row.steps_today and not row.as_planned and "Today: Stag" in page.content.decode()
    make_light_change(lit, happened_at=timezone.now(), factor=0.8)
    page = client.get(address)
    (row,) = page.context["status"].corals
    assert row.as_planned and "Today: Stag" not in page.content.decode()


def test_corals_stand_in_the_order_of_their_days(lit):
    late, early = make_coral(lit, name="Late"), make_coral(lit, name="Early")
    trial = trial_of(lit, [late, early])
    TrialCoral.objects.filter(coral=early).update(drawn=1)
    assert [row.coral.name for row in trial_status(trial).corals] == ["Early", "Late"]


def form_data(coral, **overrides):
    fields = {
        "question": "less",
        "corals": [coral.pk],
        "step": "moved down",
        "factor": "0.8",
        "began_on": coral.tank.today().isoformat(),
    }
    return fields | overrides


def test_form_begins_a_trial(as_user, owner, tank):
    coral = make_coral(tank)
    answer = as_user(owner).post(reverse("trial_new", args=[tank.pk]), form_data(coral))
    trial = Trial.objects.get()
    assert answer["Location"] == reverse("trial_detail", args=[trial.pk])
    assert [draw.coral for draw in trial.draws.all()] == [coral]


@pytest.mark.parametrize(("placed", "is_offered"), [(0, False), (1, False), (2, True)])
def test_a_trial_is_offered_where_two_corals_can_be_compared(
    as_user, owner, tank, placed, is_offered
):
    for k in range(placed):
        make_coral(tank, name=f"Frag {k}")
    new = reverse("trial_new", args=[tank.pk])
    overview = as_user(owner).get(reverse("trial_list", args=[tank.pk])).content.decode()
    form = as_user(owner).get(new).content.decode()
    assert (new in overview) == ('name="began_on"' in form) == is_offered
    assert ('id="trial-needs"' in overview) == ('id="trial-needs"' in form) == (not is_offered)


def test_bad_form_keeps_what_was_typed(as_user, owner, tank):
    data = form_data(make_coral(tank), factor="3", step="half way down")
    answer = as_user(owner).post(reverse("trial_new", args=[tank.pk]), data)
    assert answer.status_code == 422 and b"half way down" in answer.content
    assert not Trial.objects.exists()


def test_more_than_four_corals_are_refused(as_user, owner, tank):
    corals = [make_coral(tank, name=f"Frag {k}").pk for k in range(5)]
    data = form_data(make_coral(tank), corals=corals)
    answer = as_user(owner).post(reverse("trial_new", args=[tank.pk]), data)
    assert answer.status_code == 422 and b"At most 4 corals" in answer.content


@pytest.mark.parametrize(
    ("who", "reads", "writes"),
    [("owner", 200, 302), ("co_keeper", 200, 302), ("viewer", 200, 403), ("stranger", 404, 404)],
)
def test_access(request, as_user, lit, who, reads, writes):
    client = as_user(request.getfixturevalue(who))
    trial = trial_of(lit, [make_coral(lit)], began_ago=10)
    assert client.get(reverse("trial_list", args=[lit.pk])).status_code == reads
    assert client.get(reverse("trial_detail", args=[trial.pk])).status_code == reads
    for name in ("trial_resume", "trial_stop", "trial_unstop", "trial_remove", "trial_restore"):
        assert client.post(reverse(name, args=[trial.pk])).status_code == writes
    new = client.get(reverse("trial_new", args=[lit.pk])).status_code
    assert new == (200 if writes == 302 else writes)


@pytest.mark.parametrize(
    ("fields", "state", "words"),
    [
        ({"began_ago": -3}, "waiting", "Begins soon"),
        ({"began_ago": 10}, "running", "Running"),
        ({"began_ago": 10, "stopped": 2}, "stopped", "Stopped early"),
        ({"began_ago": 120}, "done", "Done</span>: No score"),
    ],
)
def test_list_tells_where_each_trial_stands(as_user, viewer, lit, fields, state, words):
    stopped = fields.pop("stopped", None)
    stopped_on = None if stopped is None else days_ago(lit, stopped)
    trial_of(lit, [make_coral(lit)], stopped_on=stopped_on, **fields)
    page = " ".join(
        as_user(viewer).get(reverse("trial_list", args=[lit.pk])).content.decode().split()
    )
    assert f'<span class="state trial-state--{state}">{words}' in page


def test_stopped_trial_has_no_score_and_can_go_on(as_user, owner, lit):
    trial = trial_of(lit, [make_coral(lit)], began_ago=10)
    client = as_user(owner)
    page = client.post(reverse("trial_stop", args=[trial.pk]), follow=True).content.decode()
    assert "has no score" in page
    client.post(reverse("trial_unstop", args=[trial.pk]))
    assert trial_status(Trial.objects.get()).state == "running"


def test_trial_stopped_twice_was_stopped_the_first_time(as_user, owner, lit):
    trial = trial_of(lit, [make_coral(lit)], stopped_on=days_ago(lit, 3))
    as_user(owner).post(reverse("trial_stop", args=[trial.pk]))
    assert Trial.objects.get().stopped_on == days_ago(lit, 3)


def test_coral_whose_spot_was_taken_away_is_not_offered(as_user, owner, tank):
    coral = make_coral(tank)
    coral.spots.get().remove()
    page = as_user(owner).get(reverse("trial_new", args=[tank.pk]))
    assert not page.context["form"].fields["corals"].queryset


def test_going_on_after_a_pause_runs_again(as_user, owner, lit):
    trial = trial_of(lit, [make_coral(lit)], began_ago=40, drawn=0)
    make_note(trial.draws.first().coral, noted_on=days_ago(lit, 5), seen=SEEN.BLEACHING)
    client = as_user(owner)
    page = client.get(reverse("trial_detail", args=[trial.pk]))
    assert page.context["status"].state == "paused"
    assert reverse("trial_resume", args=[trial.pk]) in page.content.decode()
    client.post(reverse("trial_resume", args=[trial.pk]))
    assert trial_status(Trial.objects.get()).state == "running"


def test_taken_away_trial_comes_back(as_user, owner, lit):
    trial, client = trial_of(lit, [make_coral(lit)]), as_user(owner)
    client.post(reverse("trial_remove", args=[trial.pk]))
    assert client.get(reverse("trial_detail", args=[trial.pk])).status_code == 404
    client.post(reverse("trial_restore", args=[trial.pk]))
    assert client.get(reverse("trial_detail", args=[trial.pk])).status_code == 200


# --- Reminders ----------------------------------------------------------------------------------


def reminded(tank):
    """Return [(key, in how many days)]."""
    return [(r.key, (r.due_on - tank.today()).days) for r in reminders_due(tank, timezone.now())]


def test_running_trial_reminds_of_notes_and_of_the_drawn_day(as_user, owner, tank):
    coral = make_coral(tank, name="Stag")
    # The lot fell on the sixth day of notes, 15 days after the first.
    trial = trial_of(tank, [coral], began_ago=12, drawn=0)
    notes, step = f"trial-{trial.pk}-notes", f"trial-{trial.pk}-step-{coral.pk}"
    assert reminded(tank) == [(notes, 0), (step, 3)]
    make_note(coral, noted_on=tank.today(), seen=SEEN.WELL)
    assert reminded(tank)[0] == (notes, 3)
    page = as_user(owner).get(reverse("tank_detail", args=[tank.pk])).content.decode()
    assert "Stag" in page and trial.step in page


def test_paused_trial_reminds_of_the_coral_and_of_no_step(tank):
    early, late = make_coral(tank, name="Early"), make_coral(tank, name="Late")
    trial = trial_of(tank, [early], began_ago=20, drawn=0)
    TrialCoral.objects.create(trial=trial, coral=late, drawn=2)
    make_note(early, noted_on=days_ago(tank, 1), seen=SEEN.BLEACHING)
    (reminder,) = reminders_due(tank, timezone.now())
    assert reminder.key == f"trial-{trial.pk}-paused" and "Early" in reminder.title
    assert reminder.due_on == days_ago(tank, 1)


@pytest.mark.parametrize("over", [{"began_ago": 200}, {"stopped_on": dt.date(2026, 1, 1)}])
def test_trial_that_is_over_reminds_of_nothing(tank, over):
    trial_of(tank, [make_coral(tank)], **({"began_ago": 12} | over))
    assert reminded(tank) == []


def test_reminders_ask_no_more_for_more_corals(tank, django_assert_num_queries):
    for _ in range(2):
        trial_of(tank, [make_coral(tank) for _ in range(3)], began_ago=12)
    with django_assert_num_queries(3):
        assert list(trial_reminders(tank, timezone.now()))
