"""Plain makers of rows for tests: sound defaults, anything overridden by name."""

import datetime as dt
import itertools

from django.core.files.base import ContentFile
from django.utils import timezone

from apps.accounts.models import User
from apps.clubs import models as clubs
from apps.corals.history.large import put_down_table
from apps.corals.history.sent import SentTable
from apps.corals.history.table import Answers
from apps.corals.models import (
    Coral,
    CoralSize,
    HealthNote,
    HistoryImport,
    SentPhoto,
    Spot,
    WaterEvent,
)
from apps.corals.water.large import SentLines, put_down_lines
from apps.later.models import Job
from apps.later.running import run_job
from apps.lighting.models import DayCurve, Fixture, HungFixture, LightChange, OfferedFixture
from apps.outcomes.models import Trial
from apps.planning.models import Acclimation, AcclimationStep, AcclimationTick, Plan
from apps.sharing.models import PushBrowser
from apps.surveys.models import LoggedSeries, Meter, MeterCheck, Reading, Survey, SurveyOffer
from apps.tanks.models import Membership, Rock, Tank
from apps.transfer.models import Arrival
from reeflog.demo_light import true_par

_count = itertools.count(1)
PASSWORD = "a-password-for-tests-27"


def make_user(**overrides):
    fields = {"email": f"keeper{next(_count)}@example.org", "password": PASSWORD} | overrides
    return User.objects.create_user(**fields)


def make_tank(owner=None, **overrides):
    fields = {
        "owner": owner or make_user(),
        "name": "Harbour cube",
        "length_cm": 60,
        "width_cm": 60,
        "depth_cm": 50,
    } | overrides
    return Tank.objects.create(**fields)


def make_rock(tank, **overrides):
    fields = {
        "x_cm": 20, "y_cm": 20, "depth_cm": 30, "length_cm": 20, "width_cm": 20, "height_cm": 20,
    } | overrides  # fmt: skip
    return Rock.objects.create(tank=tank, **fields)


def let_in(tank, user, role=Membership.Role.VIEWER):
    return Membership.objects.create(tank=tank, user=user, role=role)


def make_club(officer, *members, **overrides):
    club = clubs.Club.objects.create(**({"name": "Harbour reef club"} | overrides))
    clubs.Membership.objects.create(club=club, user=officer, role=clubs.Membership.Role.OFFICER)
    for user in members:
        clubs.Membership.objects.create(club=club, user=user)
    return club


def make_meter(owner, **overrides):
    return Meter.objects.create(owner=owner, **({"label": "Club meter"} | overrides))


def make_offer(club, fixture):
    """Offer a lamp of a member to their club."""
    return OfferedFixture.objects.create(club=club, fixture=fixture)


def make_survey_offer(club, survey, to):
    """Offer a survey to a member of a club, in the name of its tank's owner."""
    return SurveyOffer.objects.create(club=club, survey=survey, to=to, offered_by=survey.tank.owner)


def make_club_meter(club, **overrides):
    """Make a meter of a club, in the name of its first officer."""
    officer = club.memberships.officers().first().user
    return make_meter(officer, **({"club": club, "follows_checks": True} | overrides))


def make_meter_check(meter, **overrides):
    """Make a check of a meter that read 100 where a reference read 110."""
    given = {
        "reference": "Club sensor",
        "reference_percent": 3.0,
        "checked_on": dt.date(2026, 5, 3),
        "pairs": [[100, 110], [200, 220], [300, 330]],
    } | overrides
    return MeterCheck.objects.create(meter=meter, **given)


def make_survey(tank, *, readings=None, **overrides):
    """Make a survey of readings (x_cm, y_cm, depth_cm, value_umol); a 3x3x3 grid by default."""
    survey = Survey.objects.create(tank=tank, **({"taken_at": timezone.now()} | overrides))
    rows = grid_readings(tank) if readings is None else readings
    Reading.objects.bulk_create(
        Reading(survey=survey, position=i, x_cm=x, y_cm=y, depth_cm=d, value_umol=v)
        for i, (x, y, d, v) in enumerate(rows, start=1)
    )
    return survey


def grid_readings(tank, *, top_umol=300.0):
    """Return a 3x3x3 survey that falls with depth and towards the walls."""
    return [
        (
            round(fx * tank.length_cm, 1),
            round(fy * tank.width_cm, 1),
            round(fz * tank.depth_cm, 1),
            round(top_umol * (1 - 0.5 * fz) * (1 - (fx - 0.5) ** 2 - (fy - 0.5) ** 2)),
        )
        for fz in (0.2, 0.5, 0.8)
        for fy in (0.2, 0.5, 0.8)
        for fx in (0.2, 0.5, 0.8)
    ]


def make_light_change(tank, **overrides):
    fields = {
        "happened_at": timezone.now() - dt.timedelta(days=30),
        "summary": "Raised the lamp",
        "factor": 0.8,
        "day_hours": 10,
        "ramp_hours": 1,
    } | overrides
    return LightChange.objects.create(tank=tank, **fields)


def make_fixture(owner, **overrides):
    fields = {"name": "Panel", "lit_length_cm": 20, "lit_width_cm": 20, "beam_deg": 90} | overrides
    return Fixture.objects.create(owner=owner, **fields)


def hang(change, fixture=None, **overrides):
    """Hang one more fixture from a light change on, over the middle of the tank."""
    tank = change.tank
    change.tells_rig = True
    change.save(update_fields=["tells_rig"])
    fields = {
        "number": change.hung.count() + 1,
        "told": ["hung"],
        "x_cm": tank.length_cm / 2,
        "y_cm": tank.width_cm / 2,
        "height_cm": 20,
    } | overrides
    hung = HungFixture(change=change, **fields).take_facts(fixture or make_fixture(tank.owner))
    hung.save()
    return hung


def make_day_curve(tank, **overrides):
    fields = {
        "name": "Summer day",
        "points": [[480, 0], [600, 100], [1080, 100], [1200, 0]],
    } | overrides
    return DayCurve.objects.create(tank=tank, **fields)


def make_lit_survey(tank, *, ppf_umol_s=120.0, **overrides):
    """Hang a panel over the middle, then make a survey of the light it truly gives."""
    hung = hang(make_light_change(tank, factor=1, summary="Hung the panel"))
    places = [row[:3] for row in grid_readings(tank)]
    par = true_par(places, tank=tank.scene(), fixtures=[hung.scene()], ppf_umol_s=ppf_umol_s)
    readings = [(*place, round(float(value), 1)) for place, value in zip(places, par, strict=True)]
    return make_survey(tank, readings=readings, **overrides)


def make_survey_unlike_its_lamp(tank, **overrides):
    """Hang a panel over the middle, then make a survey that is drawn without it: too even."""
    hang(make_light_change(tank, factor=1, summary="Hung the panel"))
    rows = [
        (x, y, depth, par - y / 20)
        for depth, pars in ((10, (210, 255, 205)), (30, (82, 115, 80)))
        for y in (12, 38)
        for x, par in zip((10, 30, 51), pars, strict=True)
    ]
    return make_survey(tank, **({"readings": rows} | overrides))


def make_coral(tank, *, at_cm=(30, 30, 25), since=None, **overrides):
    """Make a coral with one spot; at_cm=None leaves it unplaced."""
    added = since or (tank.today() - dt.timedelta(days=200))
    fields = {"name": "Green branching", "group": Coral.Group.SPS, "added_on": added} | overrides
    coral = Coral.objects.create(tank=tank, **fields)
    if at_cm is not None:
        x, y, depth = at_cm
        Spot.objects.create(coral=coral, x_cm=x, y_cm=y, depth_cm=depth, since=added)
    return coral


def make_push_browser(keeper, **overrides):
    """Make a browser that is sent to nowhere, made under no key."""
    fields = {
        "endpoint": f"https://push.example.org/{next(_count)}", "key": "", "secret": "",
        "name": "Firefox on Linux",
    } | overrides  # fmt: skip
    return PushBrowser.objects.create(keeper=keeper, **fields)


def make_note(coral, **overrides):
    fields = {"noted_on": coral.tank.today(), "seen": HealthNote.Seen.PALING} | overrides
    return HealthNote.objects.create(coral=coral, **fields)


def make_water_event(tank, **overrides):
    fields = {
        "happened_at": timezone.now() - dt.timedelta(days=10),
        "kind": WaterEvent.Kind.TEMPERATURE,
        "value": 29.5,
        "unit": "°C",
        "text": "heater stuck",
        "could_hurt": True,
    } | overrides
    return WaterEvent.objects.create(tank=tank, **fields)


def make_plan(owner, tank=None, **overrides):
    fields = {"kind": Plan.Kind.LAYOUT, "name": "Two panels"} | overrides
    return Plan.objects.create(owner=owner, tank=tank, **fields)


def make_acclimation(coral, *, lights=(100, 120, 144, 170), starts_days_ago=0, **overrides):
    """Make a plan by level whose steps give the lights in turn; the first is what it is used to."""
    fields = {
        "tank": coral.tank,
        "starts_on": coral.tank.today() - dt.timedelta(days=starts_days_ago),
        "start_umol": lights[0],
        "target_umol": lights[-1],
        "rate_percent": 20,
        "pace": Acclimation.Pace.FAST,
    } | overrides
    plan = Acclimation.objects.create(coral=coral, **fields)
    begun = timezone.now() - dt.timedelta(days=starts_days_ago, hours=1)
    Acclimation.objects.filter(pk=plan.pk).update(created_at=begun)
    AcclimationStep.objects.bulk_create(
        AcclimationStep(
            acclimation=plan, number=k, light_umol=light, setting=100.0 * light / lights[-1]
        )
        for k, light in enumerate(lights[1:], start=1)
    )
    return Acclimation.objects.get(pk=plan.pk)


def make_tick(plan, number, *, days_ago=0):
    """Tick a step, entered on the day it was done."""
    done = timezone.now() - dt.timedelta(days=days_ago)
    tick = AcclimationTick.objects.create(
        acclimation=plan, number=number, done_on=plan.tank.today() - dt.timedelta(days=days_ago)
    )
    AcclimationTick.objects.filter(pk=tick.pk).update(created_at=done - dt.timedelta(minutes=30))
    return tick


def make_log(tank):
    start = timezone.now().timestamp() - 86400
    samples = [[start + 600 * k, 100.0] for k in range(144)]
    return LoggedSeries.objects.create(
        tank=tank, label="Over the rock", x_cm=10, y_cm=10, depth_cm=10, samples=samples
    )


def make_trial(tank):
    began = tank.today()
    return Trial.objects.create(
        tank=tank, question="less", step="moved down", factor=0.8, began_on=began
    )


def make_history_import(tank):
    """Make an import that added one entry to the water log."""
    event = make_water_event(tank)
    return HistoryImport.objects.create(tank=tank, added=[["water", event.pk, "0" * 16]])


def make_sent_photo(tank, **overrides):
    """Make a photo that waits for its coral."""
    sent = SentPhoto(
        **{"tank": tank, "digest": f"{next(_count):064}", "name": "tank.jpg"} | overrides
    )
    sent.facts = {"width_px": 8, "height_px": 8}
    for field in (sent.image, sent.thumbnail):
        field.save("photo.jpg", ContentFile(b"\xff\xd8 a picture"), save=False)
    sent.save()
    return sent


def make_arrival(keeper, content=b"no zip"):
    """Make a zip that waits for its keeper's word."""
    arrival = Arrival(keeper=keeper, name="tank.zip")
    arrival.file.save("", ContentFile(content), save=True)
    return arrival


def make_job(keeper=None, **overrides):
    return Job.objects.create(**{"name": "warm_light", "keeper": keeper} | overrides)


def make_written_zip(keeper):
    """Make a job that wrote a keeper's zip."""
    arguments, outcome = {"tank_pk": None}, {"tanks": []}
    job = make_job(keeper, name="write_zip", arguments=arguments, state="done", outcome=outcome)
    job.file.save(".zip", ContentFile(b"a zip"), save=True)
    return job


def make_checked_history(tank):
    """Make a job that read a table of history for a tank's owner."""
    sent = SentTable("date;alkalinity\n2026-03-01;8.2\n", Answers())
    return done(put_down_table("check_history", tank=tank, sent=sent, by=tank.owner))


def make_checked_water(tank):
    """Make a job that read a table of the water log for a tank's owner."""
    sent = SentLines("date;kind;value\n2026-03-01;alkalinity;8.2\n")
    return done(put_down_lines("check_water", tank=tank, sent=sent, by=tank.owner))


def done(job):
    """Return a job that was put down, once it was run."""
    run_job(job.pk)
    job.refresh_from_db()
    return job


def make_size(coral, **overrides):
    return CoralSize.objects.create(
        **{"coral": coral, "measured_on": coral.tank.today(), "diameter_cm": 4.0} | overrides
    )
