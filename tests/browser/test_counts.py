"""How much a keeper has to look at: words, height and links of each main screen, and no shifts.

Counted on the demo and on a tank that was kept for years, on a phone and on a desk. Nothing passes
by being hidden: a text is counted, or it lies in a fold, or it is named in `main_screens.py`.
"""

import datetime as dt
from dataclasses import dataclass
from itertools import combinations
from math import dist
from statistics import median

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import Coral, HealthNote, Photo
from apps.planning.models import LAYOUT, Plan
from apps.sharing.models import Comment
from apps.tanks.models import Tank
from reeflog.demo import load_demo
from tests.benchmarks.three_tanks import KEPT_FOR_YEARS, make_measured
from tests.browser.conftest import DESK, PHONE, sign_in
from tests.browser.main_screens import COUNT_SHIFTS, measured, tank_screens
from tests.factories import make_job, make_user
from tests.sharing.links import make_link

pytestmark = pytest.mark.django_db(transaction=True)

SHIFT_MAX = 0.02


@dataclass(frozen=True)
class Most:
    """What a screen may have at most; None: any number. The goal is said where it is less."""

    words: int | None = None
    height_phone: int | None = None
    links: int | None = None
    drawing_y_phone: int | None = None


# Of the demo, whose tank, corals and log are as a keeper's of half a year.
MOST = {
    "tank": Most(words=120, height_phone=1800, links=20, drawing_y_phone=560),
    "map": Most(words=140, height_phone=1950, drawing_y_phone=260),
    "map, changed": Most(words=150, height_phone=2000, drawing_y_phone=330),
    "coral": Most(height_phone=2500),
    "case": Most(words=150),
    # Nobody is in trouble there.
    "cases": Most(words=110, height_phone=1050),
    "light change": Most(height_phone=1200),
    "light log": Most(words=140, height_phone=1250),
    "new rig": Most(words=150, height_phone=1750),
    "layout": Most(height_phone=1925),
    "find a layout": Most(words=150, height_phone=1800),
    "find a layout, no tank": Most(words=180, height_phone=1750),
    "layout answer": Most(height_phone=1800),
    "statistics": Most(words=180, height_phone=1500),
    "report": Most(words=150, height_phone=1700),
    "survey review": Most(words=170, height_phone=1600),
    "light effect": Most(words=200, height_phone=1800),
    "readings": Most(words=80, height_phone=1800),
    "compare": Most(words=120, height_phone=1200),
    "what if": Most(words=200, height_phone=1900),
    "shared map": Most(words=190, height_phone=1900),
    "map of a long tank, changed": Most(words=150, height_phone=1850),
    "tank settings": Most(words=120, height_phone=1650),
    "settings": Most(words=170, height_phone=1700),
    "event": Most(words=280, height_phone=2350),
    "photo": Most(words=140, height_phone=1750),
    "place": Most(words=300, height_phone=2250),
    "day schedule": Most(words=170, height_phone=1950),
    "notes": Most(words=250, links=36, height_phone=2050),
    "meter": Most(words=100, height_phone=950),
    "for programs": Most(words=150, height_phone=1800),
}
MEDIAN_WORDS = 150
HEAVY_HEIGHT_PHONE = 3000
# What may not grow with them: they say the last, the next or the worst, and fold the rest.
HEAVY_MOST = {
    "survey review": Most(words=260, height_phone=1950),
    "what if": Most(words=280, height_phone=2000),
    "cases": Most(words=150, height_phone=1500),
    "statistics": Most(words=330, links=14, height_phone=2250),
    "report": Most(words=370, links=16, height_phone=2600),
    "event": Most(words=300, links=8, height_phone=2400),
    "corals": Most(words=160, links=25, height_phone=1700),
    "wall": Most(words=120, links=14, height_phone=1250),
    "photos by week": Most(words=50, links=6, height_phone=900),
    "notes": Most(words=280, links=36, height_phone=2050),
    "water log": Most(words=230, links=30, height_phone=2050),
    "survey": Most(words=60, height_phone=900),
    "readings": Most(words=110, height_phone=1700),
    "share": Most(words=180, height_phone=1550),
    "shared map": Most(words=280, height_phone=2350),
    "light log": Most(words=190, links=8, height_phone=1550),
    "light log, a year": Most(words=190, links=22, height_phone=1650),
    "new rig": Most(words=190, height_phone=1850),
    "job": Most(words=30, height_phone=900),
}


# So many comments stand on the shared map of a tank of years.
COMMENTS = 14
# The left, right, top and bottom edge of each [px].
SQUARES = """squares => squares.map(square => {
  const box = square.getBoundingClientRect();
  return [box.left, box.right, box.top, box.bottom];
})"""
# The middle and the radius of each [px].
DISCS = """discs => discs.map(disc => {
  const box = disc.getBoundingClientRect();
  return [box.x + box.width / 2, box.y + box.height / 2, box.width / 2];
})"""


def meet(one, other):
    """Tell whether two squares overlap, each by its left, right, top and bottom edge [px]."""
    beside = one[0] >= other[1] or other[0] >= one[1]
    return not (beside or one[2] >= other[3] or other[2] >= one[3])


def faults_of(name, most, found, size):
    """Return in words what a screen has too much of."""
    faults = []
    if most.words and found["words"] > most.words:
        faults.append(f"{name}: {found['words']} words")
    if most.links and found["links"] > most.links:
        faults.append(f"{name}: {found['links']} links")
    if size is PHONE and most.height_phone and found["height"] > most.height_phone:
        faults.append(f"{name}: {found['height']} px tall")
    if size is PHONE and most.drawing_y_phone and found["drawing"] > most.drawing_y_phone:
        faults.append(f"{name}: drawn from {found['drawing']} px on")
    if found["unseen"]:
        faults.append(f"{name}: out of sight: {found['unseen']}")
    if found["small"]:
        faults.append(f"{name}: too small to hit: {found['small']}")
    if found["wide"] > 0:
        faults.append(f"{name}: {found['wide']} px too wide")
    if found["shifted"] > SHIFT_MAX:
        faults.append(f"{name}: shifts by {found['shifted']}")
    return faults


@pytest.fixture
def walk(context, live_server, page):
    """Return a function that opens screens as a keeper and returns {name: measures}."""
    context.add_init_script(COUNT_SHIFTS)

    def walked(keeper, screens, size, scheme, *, with_axe=True):
        sign_in(context, live_server.url, keeper)
        page.set_viewport_size(size)
        page.emulate_media(color_scheme=scheme)
        found = {}
        for name, address in screens.items():
            found[name] = dict(measured(page, live_server.url + address))
            if with_axe:
                violations = Axe().run(page).response["violations"]
                found[name]["axe"] = [v["id"] for v in violations]
        return found

    return walked


SCREENS = [(PHONE, "light"), (DESK, "dark")]


def rare_screens(tank, coral, shelf):
    """Return {name: address} of pages that are seldom opened, each of which was too tall once."""
    paled = coral.notes.filter(seen="paling").earliest("noted_on")
    photo = Photo.objects.filter(note__coral=coral).latest("note__noted_on")
    return {
        "settings": reverse("settings_edit"),
        "event": reverse("outcome_detail", args=[tank.pk, paled.pk]),
        "photo": reverse("photo_detail", args=[photo.key]),
        "place": reverse("place_coral", args=[tank.pk]),
        "day schedule": reverse("day_curve_detail", args=[shelf.day_curves.first().pk]),
        "meter": reverse("meter_new"),
        "for programs": reverse("api_docs"),
    }


def test_the_demo_says_little_at_a_time(walk, complaints):
    keeper = load_demo()
    tank = Tank.objects.get(name="Harbour cube")
    shelf = Tank.objects.get(name="The long shelf")
    coral = Coral.objects.get(tank=tank, name="Cream staghorn")
    screens, faults = tank_screens(tank, coral, coral), []
    survey, change = tank.surveys.latest("taken_at"), tank.light_changes.latest("happened_at")
    plan = Plan.objects.get(tank=tank, kind=LAYOUT).get_absolute_url()
    screens |= {
        "map, changed": screens["map"] + "?view=change",
        "new rig": reverse("light_change_new", args=[tank.pk]),
        "layout": plan,
        "survey review": reverse("survey_review", args=[survey.pk]),
        "light effect": reverse("light_change_effect", args=[change.pk]),
        "readings": reverse("survey_readings", args=[survey.pk]),
        "compare": reverse("light_compare", args=[tank.pk]),
        "notes": reverse("note_list", args=[tank.pk]),
        "shared map": f"/s/{make_link(tank, show_notes=True, show_photos=True)[1]}/",
        "map of a long tank, changed": reverse("light_map", args=[shelf.pk]) + "?view=change",
        "find a layout": reverse("tank_layout_new", args=[tank.pk]),
        "find a layout, no tank": reverse("layout_new"),
        "layout answer": f"{plan}answers/1/",
    } | rare_screens(tank, coral, shelf)
    for size, scheme in SCREENS:
        found = walk(keeper, screens, size, scheme)
        for name, here in found.items():
            faults += faults_of(name, MOST.get(name, Most()), here, size)
            faults += [f"{name}: {fault} in axe" for fault in here["axe"]]
        assert median(here["words"] for here in found.values()) <= MEDIAN_WORDS
    assert not faults and not complaints, "\n".join(faults)


def heavy_screens(tank):
    """Return {name: address} of further pages of a tank that grow with its rows."""
    survey = tank.surveys.latest("taken_at")
    paled = HealthNote.objects.filter(coral__tank=tank, seen="paling").latest("noted_on")
    return {
        "new rig": reverse("light_change_new", args=[tank.pk]),
        "survey review": reverse("survey_review", args=[survey.pk]),
        "event": reverse("outcome_detail", args=[tank.pk, paled.pk]),
        "wall": reverse("coral_wall", args=[tank.pk]),
        "photos by week": reverse("coral_gallery", args=[tank.pk]),
        "notes": reverse("note_list", args=[tank.pk]),
        "water log": reverse("water_event_list", args=[tank.pk]),
        "readings": reverse("survey_readings", args=[survey.pk]),
        "share": reverse("share_link_list", args=[tank.pk]),
        "light log, a year": reverse("light_change_list", args=[tank.pk])
        + f"?year={tank.today().year - 1}",
        "shared map": shared_of_years(tank),
    }


def shared_of_years(tank):
    """Make links of a tank, open and run out, one with comments; return its address."""
    past = timezone.now() - dt.timedelta(days=3)
    for expires in (past, past, past, timezone.now() + dt.timedelta(days=20)):
        make_link(tank, expires_at=expires)
    link, token = make_link(tank, may_comment=True, show_notes=True, show_photos=True)
    visitor = make_user()
    for n in range(COMMENTS):
        place = {"x_cm": 10 + 9 * n, "y_cm": 20, "depth_cm": 20}
        Comment.objects.create(link=link, author=visitor, text="Room for a frag?", **place)
    return f"/s/{token}/"


def test_a_tank_of_years_stays_within_reach(walk, complaints, keeper, page, live_server):
    tank = make_measured(keeper, KEPT_FOR_YEARS)
    coral = tank.corals.first()
    screens, faults = tank_screens(tank, coral, coral), []
    screens |= heavy_screens(tank)
    job = make_job(keeper, arguments={"tank_pk": tank.pk}, state="running")
    screens["job"] = reverse("job_page", args=[job.key])
    found = walk(keeper, screens, PHONE, "dark", with_axe=False)
    for name, here in found.items():
        most = HEAVY_MOST.get(name, Most(height_phone=HEAVY_HEIGHT_PHONE))
        faults += faults_of(name, most, here, PHONE)
    assert found["tank"]["links"] <= MOST["tank"].links
    page.goto(live_server.url + screens["map"])
    pins = page.locator("#map-figure .map-pin circle").evaluate_all(DISCS)
    pairs = combinations(pins, 2)
    assert all(dist(one[:2], other[:2]) >= one[2] + other[2] - 1 for one, other in pairs)
    assert 3 < len(pins) < tank.corals.count()
    assert "±" not in page.locator(".page-head").inner_text()
    page.goto(live_server.url + screens["shared map"])
    letters = page.locator(".map-drawing .map-next-mark rect").evaluate_all(SQUARES)
    assert len(letters) == COMMENTS
    assert not any(meet(*pair) for pair in combinations(letters, 2))
    assert not faults and not complaints, "\n".join(faults)
