"""The demo scenario: an invented keeper with two tanks, written row by row as a person would.

All dates are relative to the day it is loaded; with the same day come the same numbers.
"""

import datetime as dt

import numpy as np
from django.contrib.auth import get_user_model
from django.db import transaction
from django.utils import timezone

from apps.clubs.joining import make_club
from apps.clubs.models import Club
from apps.clubs.models import Membership as ClubMembership
from apps.corals.models import Coral, HealthNote, Photo, PhotoColour, Spot, WaterEvent
from apps.corals.notes.noting import save_note, stored_photo
from apps.corals.photos.colouring import mark_photo
from apps.corals.photos.sizing import keep_size
from apps.lighting.day.running import start_day_curve
from apps.lighting.hanging import save_light_change
from apps.lighting.models import DayCurve, Fixture, HungFixture, LightChange
from apps.lighting.rig import rig_in_force
from apps.photics.colour.growth import outline_size
from apps.surveys.lending.lending import ask, hand_over
from apps.surveys.meters.following import follow
from apps.surveys.models import Meter, MeterCheck, Reading, Survey
from apps.tanks.models import Membership, Rock, Tank
from apps.tanks.showing.showing import CORALS, show
from reeflog.demo_layouts import write_layouts
from reeflog.demo_light import true_par
from reeflog.demo_photos import CARD_AT, CORAL_AT, RULER_AT, RULER_CM, Shot, demo_photo, rim
from reeflog.demo_plans import write_plans
from reeflog.demo_scenario import TANKS, WELL_WORDS

DEMO_EMAIL = "maren@example.org"
DEMO_PASSWORD = "tide-and-lamp"
FRIEND_EMAIL = "tjark@example.org"
CLUB_NAME = "Lantern Quay reef club"
# When its meter was checked, days ago, and what the reference showed for 100 of it.
CLUB_CHECKS = ((400, 104.0), (60, 109.0))

SEED = 20
# How far one reading strays in rippling water, as a deviation in log PAR. House rule.
METER_NOISE = 0.06
METER_FACTOR = 1.08
# A reading is not taken inside rock or against glass [cm].
CLEARANCE_CM = 2.0
NOTE_EVERY_DAYS = 17
# The photographed coral's first radius, as a share of its photos' width, and its growth a day.
RADIUS, GROWTH_A_DAY = 0.20, 1.0012
HOUR_OF_CHANGES, HOUR_OF_SURVEYS, HOUR_OF_WATER = 19, 15, 9


def demo_keeper():
    """Return the demo keeper, or None when the scenario is not loaded."""
    return get_user_model().objects.filter(email=DEMO_EMAIL).first()


@transaction.atomic
def remove_demo():
    """Delete the demo people with all they have: tanks first, for fixtures hang in them."""
    people = get_user_model().objects.filter(email__in=[DEMO_EMAIL, FRIEND_EMAIL])
    tanks = Tank.objects.filter(owner__in=people)
    for photo in Photo.objects.filter(note__coral__tank__in=tanks):
        photo.image.delete(save=False)
        photo.thumbnail.delete(save=False)
    tanks.delete()
    Club.objects.filter(memberships__user__in=people).delete()
    people.delete()


@transaction.atomic
def load_demo():
    """Write the whole scenario and return its keeper; every row passes its full_clean()."""
    rng = np.random.default_rng(SEED)
    users = get_user_model().objects
    keeper = users.create_user(DEMO_EMAIL, DEMO_PASSWORD, display_name="Maren")
    # The friend has no password: nobody signs in as Tjark.
    friend = users.create_user(FRIEND_EMAIL, display_name="Tjark, from the club")
    meter = save(Meter(owner=keeper, label="The club’s sensor", correction_factor=METER_FACTOR))
    for row in TANKS:
        tank = write_tank(row, keeper)
        write_changes(row, tank)
        write_days(row, tank)
        for survey in row.surveys:
            write_survey(survey, row, tank, meter, rng)
        for coral in row.corals:
            write_coral(coral, tank, rng)
        write_layouts(row, tank)
        write_water(row.water, tank)
        save(Membership(tank=tank, user=friend, role=Membership.Role.VIEWER))
        write_plans(tank)
    write_club(keeper, friend)
    return keeper


def save(row):
    """Save a row that must be as sound as one typed into a form."""
    row.full_clean()
    row.save()
    return row


def moment(tank, days_ago, hour):
    """Return an hour of a day at the tank."""
    return dt.datetime.combine(date(tank, days_ago), dt.time(hour), tzinfo=tank.zone)


def date(tank, days_ago):
    return tank.today() - dt.timedelta(days=days_ago)


def write_club(keeper, friend):
    """Write the club whose officer is the keeper, who shows it both tanks, and its meter."""
    club = make_club(club=Club(name=CLUB_NAME), by=keeper)
    save(ClubMembership(club=club, user=friend))
    for tank in Tank.objects.owned_by(keeper):
        show(tank=tank, club=club, what=CORALS)
    meter = save(Meter(owner=keeper, club=club, label="Loan meter", follows_checks=True))
    today = timezone.localdate()
    for days_ago, shown in CLUB_CHECKS:
        pairs = [[100.0, shown], [200.0, 2 * shown]]
        check = MeterCheck(meter=meter, reference="The club’s sensor", reference_percent=4.0)
        check.checked_on, check.pairs = today - dt.timedelta(days=days_ago), pairs
        save(check)
    follow(meter=meter, change=lambda: None)
    hand_over(meter=meter, to=friend, day=today - dt.timedelta(days=5))
    ask(meter=meter, user=keeper)


def write_tank(row, keeper):
    length, width, depth = row.box_cm
    tank = save(
        Tank(
            owner=keeper,
            name=row.name,
            length_cm=length,
            width_cm=width,
            depth_cm=depth,
            back_pane=row.back_pane,
            bottom=Tank.Bottom.SAND,
        )
    )
    names = ("x_cm", "y_cm", "depth_cm", "length_cm", "width_cm", "height_cm")
    for name, *box in row.rocks:
        save(Rock(tank=tank, name=name, **dict(zip(names, box, strict=True))))
    return tank


def write_lamp(row, tank):
    """Write the fixture that hangs over a tank into its keeper's library."""
    length, width = row.lamp_cm
    return save(
        Fixture(
            owner=tank.owner,
            name=row.lamp,
            kind=Fixture.Kind.PANEL,
            lit_length_cm=length,
            lit_width_cm=width,
            beam_deg=row.beam_deg,
            ppf_umol_s=row.ppf_umol_s,
            watts=row.watts,
            channels=[
                {"name": name, "share_percent": share}
                | ({"peak_nm": nm} if nm else {"white_kelvin": kelvin})
                for name, nm, kelvin, share in row.channels
            ],
        )
    )


def write_changes(row, tank):
    """Write the light changes as a keeper would enter them, each with the rig after it."""
    lamp = write_lamp(row, tank)
    before = ()
    for entry in row.changes:
        change = LightChange(
            tank=tank,
            happened_at=moment(tank, entry.days_ago, HOUR_OF_CHANGES),
            reason=entry.reason,
            summary=entry.summary,
            factor=entry.factor,
            day_hours=entry.day_hours,
            ramp_hours=entry.ramp_hours,
            created_by=tank.owner,
        )
        change.full_clean()
        save_light_change(change=change, hung=hung_rows(entry.rig, before, lamp))
        before = entry.rig


def write_days(row, tank):
    """Write the named day curves, and start those that ran."""
    for drawn in row.days:
        points = [[60 * hour, level] for hour, level in drawn.points]
        group = "moon" if drawn.is_moonlight else ""
        curve = save(
            DayCurve(
                tank=tank,
                name=drawn.name,
                group=group,
                points=points,
                is_moonlight=drawn.is_moonlight,
                created_by=tank.owner,
            )
        )
        if drawn.started_days_ago is not None:
            start_day_curve(
                curve=curve,
                happened_at=moment(tank, drawn.started_days_ago, HOUR_OF_CHANGES),
                created_by=tank.owner,
            )


def hung_rows(rig, before, lamp):
    """Return the HungFixtures of a rig, with what of it differs from the one before; or None."""
    if rig == before:
        return None
    rows = []
    for number, hung in enumerate(rig, start=1):
        row = HungFixture(**vars(hung)).take_facts(lamp)
        if before:
            old = before[number - 1]
            row.number = number
            row.told = [n for n, value in vars(hung).items() if value != getattr(old, n)]
        rows.append(row)
    return rows


def write_survey(planned, row, tank, meter, rng):
    """Write a survey: a grid of readings and one at each coral that sat there, with meter noise."""
    survey = save(
        Survey(
            tank=tank,
            taken_at=moment(tank, planned.days_ago, HOUR_OF_SURVEYS),
            meter=meter,
            correction_factor=meter.correction_factor,
            light_note=planned.light_note,
            created_by=tank.owner,
        )
    )
    points = grid_points(planned, tank) + coral_points(planned, row)
    rocks = tank.scene_rocks()
    points = [p for p in points if not in_rock(p, rocks)]
    par = true_par(
        points,
        tank=tank.scene(),
        fixtures=[hung.scene() for hung in rig_in_force(tank, survey.taken_at)],
        rocks=rocks,
        ppf_umol_s=row.ppf_umol_s,
    )
    shown = par * np.exp(rng.normal(0.0, METER_NOISE, len(par))) / survey.correction_factor
    readings = [
        Reading(survey=survey, position=i, x_cm=x, y_cm=y, depth_cm=depth, value_umol=round(value))
        for i, ((x, y, depth), value) in enumerate(zip(points, shown, strict=True), start=1)
    ]
    for reading in readings:
        reading.full_clean()
    Reading.objects.bulk_create(readings)


def grid_points(planned, tank):
    """Return grid points of a survey, from the front left, top layer first [cm]."""

    def spread(length_cm, count):
        return [round(length_cm * (i + 0.5) / count, 1) for i in range(count)]

    return [
        (x, y, depth)
        for depth in planned.depths_cm
        for y in spread(tank.width_cm, planned.rows)
        for x in spread(tank.length_cm, planned.columns)
    ]


def coral_points(planned, row):
    """Return the spots of the corals that sat in the tank on the day of a survey [cm]."""
    points = []
    for coral in row.corals:
        past = [spot for spot in coral.spots if spot[0] >= planned.days_ago]
        points += [min(past)[1:]] if past else []
    return points


def in_rock(point, rocks):
    x, y, depth = point
    near = CLEARANCE_CM
    return any(
        rock.x_cm - near < x < rock.x_cm + rock.length_cm + near
        and rock.y_cm - near < y < rock.y_cm + rock.width_cm + near
        and rock.depth_cm < depth < rock.depth_cm + rock.height_cm
        for rock in rocks
    )


def write_coral(row, tank, rng):
    """Write a coral, its spots and half a year of notes: the telling ones, and "looks well"."""
    low, high = row.band or (None, None)
    came = row.spots[0][0]
    coral = save(
        Coral(
            tank=tank,
            name=row.name,
            group=row.group,
            band_low_umol=low,
            band_high_umol=high,
            added_on=date(tank, came),
        )
    )
    for days_ago, x, y, depth in row.spots:
        save(Spot(coral=coral, x_cm=x, y_cm=y, depth_cm=depth, since=date(tank, days_ago)))
    for days_ago, seen, strength, words in sorted(notes_of(row, rng), reverse=True):
        note = save(
            HealthNote(
                coral=coral,
                noted_on=date(tank, days_ago),
                condition=condition_of(seen, strength),
                seen=seen,
                strength=strength,
                text=words,
                created_by=tank.owner,
            )
        )
        if row.colours:
            write_photo(note, days_ago, row.colours)


def notes_of(row, rng):
    """Return a coral's notes as (days ago, sign, strength, words)."""
    notes, came = list(row.notes), row.spots[0][0]
    for days_ago in range(came - 4, 0, -NOTE_EVERY_DAYS):
        words = WELL_WORDS[int(rng.integers(len(WELL_WORDS)))]
        # A coral that is changing colour is not noted as well: not until it has recovered.
        if not any(bad[0] - 35 < days_ago <= bad[0] + 7 for bad in row.notes if bad[1] != "well"):
            notes.append((days_ago, HealthNote.Seen.WELL, HealthNote.Strength.CLEAR, words))
    return notes


def write_photo(note, days_ago, colours):
    """Add a photo to a note, measured where the card and the coral are marked on it."""
    days, labs = zip(*sorted(colours), strict=True)
    rng = np.random.default_rng(days_ago)
    warm = float(rng.normal(0, 0.06))
    shot = Shot(
        lab=tuple(
            float(np.interp(days_ago, days, axis) + rng.normal(0, 0.6))
            for axis in zip(*labs, strict=True)
        ),
        radius=RADIUS * GROWTH_A_DAY ** (days[-1] - days_ago),
        balance=(1 + warm, 1.0, 1 - warm),
        exposure=float(rng.uniform(0.5, 0.72)),
        shift=(float(rng.normal(0, 0.015)), float(rng.normal(0, 0.015))),
        seed=days_ago,
    )
    save_note(note=note, photos=[stored_photo(demo_photo(shot))])
    photo = note.photos.get()
    moved = np.array([[1.0, 0.0, shot.shift[0]], [0.0, 1.0, shot.shift[1]]])
    colour = mark_photo(
        photo=photo,
        reference=CARD_AT.moved(moved),
        regions=[CORAL_AT.moved(moved)],
        reference_kind=PhotoColour.ReferenceKind.WHITE,
        light=PhotoColour.Light.WHITE,
    )
    if note.shows(HealthNote.LIGHTER):
        # The keeper wrote it down, so they saw it too.
        colour.answer = PhotoColour.Answer.SEEN
        colour.save()
    write_size(photo, shot)


def write_size(photo, shot):
    """Add the size that the coral's outline and the ruler tell on a photo."""
    width_px, height_px = photo.size_px()
    outline, scale = (
        [[x + shot.shift[0], y + shot.shift[1]] for x, y in points]
        for points in (rim(shot.radius), RULER_AT)
    )
    diameter_cm, area_cm2, sd_log = outline_size(
        outline, scale, scale_cm=RULER_CM, width_px=width_px, height_px=height_px
    )
    keep_size(
        photo=photo,
        diameter_cm=diameter_cm,
        area_cm2=area_cm2,
        marks={
            "outline": outline,
            "scale": scale,
            "scale_cm": RULER_CM,
            "sd_log": sd_log,
        },
    )


def condition_of(seen, strength):
    """Return how a coral was as a whole when something was seen on it so strongly."""
    if seen == HealthNote.Seen.WELL:
        return HealthNote.Condition.GOOD
    return {
        HealthNote.Strength.SLIGHT: HealthNote.Condition.OFF,
        HealthNote.Strength.CLEAR: HealthNote.Condition.POOR,
        HealthNote.Strength.STRONG: HealthNote.Condition.BAD,
    }[strength]


def write_water(rows, tank):
    for row in rows:
        save(
            WaterEvent(
                tank=tank,
                happened_at=moment(tank, row.days_ago, HOUR_OF_WATER),
                kind=row.kind,
                value=row.value,
                unit=row.unit,
                text=row.text,
                could_hurt=row.could_hurt,
                created_by=tank.owner,
            )
        )
