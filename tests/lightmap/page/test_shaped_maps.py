"""Maps of tanks that are no boxes: drawn to their panes, and no PAR outside."""

import json
import re

import numpy as np
import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from apps.drawing.frame import frame_for
from apps.drawing.section import section_at
from apps.lightmap.lightmap import tank_light
from tests.benchmarks.shape_worlds import load_shaped
from tests.factories import (
    hang,
    make_coral,
    make_fixture,
    make_light_change,
    make_survey,
    make_tank,
)
from tests.lightmap.page.test_map_page import page_of

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]
CORNER = [[0, 60], [0, 0], [25, 0], [60, 35], [60, 60]]


def surveyed(owner, kind, **shape):
    """Return a tank of a traced world with what hangs over it and what was read in it."""
    world = load_shaped(kind)
    sizes = {key: world.tank[key] for key in ("length_cm", "width_cm", "depth_cm")}
    tank = make_tank(owner, **sizes, **shape)
    change = make_light_change(tank, factor=1)
    for lamp in world.tank["fixtures"]:
        face = {"lit_length_cm": lamp["panel_x_cm"], "lit_width_cm": lamp["panel_y_cm"]}
        fixture = make_fixture(owner, beam_deg=lamp["beam_deg"], **face)
        hang(change, fixture, **{key: lamp[key] for key in ("x_cm", "y_cm", "height_cm")})
    wet = [tuple(row) for row in world.readings if not tank.scene().outside(*row[:2])]
    make_survey(tank, readings=wet)
    return tank


@pytest.fixture
def column(owner):
    return surveyed(owner, "cylinder", shape="cylinder")


def readout(page, plane):
    found = re.search(rf'<script id="map-{plane}-data"[^>]*>(.*?)</script>', page, re.S)
    return json.loads(found[1])


def test_a_box_has_no_outline_of_its_own(owner):
    page = page_of(surveyed(owner, "overflow"))
    assert page.planes.plan.frame.edge == "" and page.planes.plan.readout["outline"] == []


def test_nodes_outside_the_panes_have_no_par(column):
    plan = page_of(column).planes.plan
    par = np.array(plan.readout["par"], float).reshape(plan.readout["rows"], -1)
    assert np.isnan(par[0, 0]) and np.isnan(par[-1, -1]) and not np.isnan(par[15, 15])
    assert np.isnan(par).mean() == pytest.approx(1 - np.pi / 4, abs=0.1)
    assert plan.frame.dry and len(plan.readout["outline"]) > 20


def test_a_section_is_as_wide_as_the_water_there(column):
    aside = page_of(column, "y=5").planes.section
    left, right = aside.readout["outline"][0][0], aside.readout["outline"][1][0]
    half = np.sqrt(27**2 - 22**2)
    assert (left, right) == (pytest.approx(27 - half, abs=0.1), pytest.approx(27 + half, abs=0.1))


def test_a_section_that_only_touches_the_water_can_be_drawn(column):
    assert section_at(column, 0.0).edge
    assert page_of(column, "y=0").planes.section.light.bands


def test_facts_count_the_water_alone(column):
    page = page_of(column)
    grid = page.planes.level
    assert page.facts.min_umol == pytest.approx(grid.par_umol[~grid.in_rock].min())


def test_corals_in_the_water_have_light_and_those_outside_none(column):
    light = tank_light(column)
    assert light.in_rock([(27, 27, 20), (2, 2, 20)]).tolist() == [False, True]


def test_the_page_draws_the_outline_for_all_who_may_look(as_user, owner, viewer, stranger, column):
    column.memberships.create(user=viewer, role="viewer")
    at = reverse("light_map", args=[column.pk])
    for who in (owner, viewer):
        for seen, name in (("above", "plan"), ("side", "section")):
            page = as_user(who).get(at, {"seen": seen}).content.decode()
            assert page.count('class="dry"') == 1
            assert readout(page, name)["outline"]
    assert as_user(stranger).get(at).status_code == 404


def test_why_is_not_answered_outside_the_panes(as_user, owner, column):
    at = reverse("light_map_why", args=[column.pk])
    answers = [
        as_user(owner).get(at, {"x": x, "y": "3", "depth": "20"}).context for x in ("3", "27")
    ]
    assert "why" not in answers[0] and answers[0]["in_rock"] and answers[1]["why"].by_fixture


def test_the_table_of_values_tells_what_lies_outside(as_user, owner, column):
    page = as_user(owner).get(reverse("light_map", args=[column.pk])).content.decode()
    outside = len(re.findall(r'class="out-of-sight">outside</span>', page))
    # Four corners of a square that holds a circle.
    assert outside >= 4 and outside % 4 == 0


@pytest.mark.parametrize("turn", range(8))
def test_the_slant_view_follows_the_outline(as_user, owner, turn):
    tank = surveyed(owner, "corner", shape="outline", outline_cm=CORNER)
    at = reverse("light_map", args=[tank.pk])
    page = as_user(owner).get(at, {"seen": "3d", "turn": turn}).content.decode()
    assert page.count("<clipPath") == 3 and "box-edge" in page


def test_daylight_is_named_where_a_point_is_explained(owner):
    tank = surveyed(owner, "window", window_side="left", window_par_umol=25)
    shown = page_of(tank).light.field
    explained = shown.explain((10.0, 24.0, 15.0))
    assert 8 < explained.daylight_umol < 40
    parts = sum(c.direct_umol + c.by_panes_umol + c.by_bottom_umol for c in explained.contributions)
    total = parts + explained.correction_umol + explained.daylight_umol
    assert total == pytest.approx(explained.par_umol, rel=1e-6)


def test_the_dry_part_lies_all_round_the_water():
    frame = frame_for(60, 60, upward=True).within([(0, 60), (0, 0), (25, 0), (60, 35), (60, 60)])
    assert frame.is_wet(frame.x(10), frame.y(50)) and not frame.is_wet(frame.x(58), frame.y(2))
    assert frame.dry.count("M") == 2 and frame.dry.endswith(frame.edge)


def test_a_coral_may_not_be_placed_outside(owner):
    tank = make_tank(owner, shape="cylinder")
    coral = make_coral(tank)
    spot = coral.spots.get()
    spot.x_cm = spot.y_cm = 3
    with pytest.raises(ValidationError, match="Outside the water"):
        spot.full_clean()


BRACES = [
    {"x_cm": 0, "y_cm": 0, "length_cm": 60, "width_cm": 6, "transmission": 0.8},
    {"x_cm": 25, "y_cm": 20, "length_cm": 10, "width_cm": 20, "transmission": 0.5},
]


@pytest.fixture
def braced(owner):
    tank = make_tank(owner, braces=BRACES)
    make_survey(tank)
    return tank


@pytest.mark.parametrize(
    ("y_cm", "cut"), [(3, [True, False]), (30, [False, True]), (50, [False] * 2)]
)
def test_a_section_shows_braces_at_the_surface_and_which_it_cuts(braced, y_cm, cut):
    planes = page_of(braced, f"depth=20&y={y_cm}").planes
    drawn = planes.section.braces
    assert [here for _, here in drawn] == cut
    frame = planes.section.frame
    for (box, _), brace in zip(drawn, BRACES, strict=True):
        assert float(box["y"]) == pytest.approx(frame.top, abs=0.1)
        assert float(box["x"]) == pytest.approx(frame.x(brace["x_cm"]), abs=0.1)
        width = brace["length_cm"] / 60 * frame.width
        assert float(box["width"]) == pytest.approx(width, abs=0.1)


def test_a_plan_shows_braces_where_they_lie(braced):
    plan = page_of(braced, "depth=20").planes.plan
    (_, here), (box, _) = plan.braces
    assert not here
    assert float(box["height"]) == pytest.approx(20 / 60 * plan.frame.height, abs=0.1)


def test_the_box_at_a_slant_shows_braces(as_user, owner, braced):
    answer = as_user(owner).get(reverse("light_map", args=[braced.pk]), {"seen": "3d"})
    assert len(answer.context["page"].box.braces) == 2
    assert answer.content.decode().count("map-brace") == 3
