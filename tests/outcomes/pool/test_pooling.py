"""Tanks taken together: consent, small cells, what is worked out again, who decides."""

import datetime as dt
import io
import re

import numpy as np
import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from apps.outcomes.association.events import Direction
from apps.outcomes.models import PooledCurve, PoolShare
from apps.outcomes.pool.part import tank_digests, visits_part
from apps.outcomes.pool.pooling import recompute_pool, refresh_parts, spread_out
from apps.outcomes.pool.views import verdict_words
from apps.photics.causes.visits import Visits
from apps.photics.causes.week_contrast import pooled_effect
from tests.benchmarks.worlds import World, simulate
from tests.factories import make_coral, make_light_change, make_note, make_survey, make_tank


def simulated(seed, **world):
    """Return the part of one simulated tank."""
    notes = simulate(World(tanks=1, ratio=6, **world), np.random.default_rng(seed))
    n = len(notes.day)
    visits = Visits(
        coral=notes.coral,
        day=notes.day.astype(float),
        light=notes.dli_mol,
        event=notes.event.astype(float),
        severity=notes.event.astype(float),
        water_event=np.zeros(n),
        group=np.where(notes.coral % 2 == 0, "sps", "lps"),
        genus=np.repeat("", n),
        by_par=False,
        without_light=0,
    )
    return visits_part(Direction.LIGHTER, visits)


def share_of(tank, part):
    return PoolShare.objects.create(tank=tank, part=part)


def pool(number, *, owner=None):
    for seed in range(number):
        share_of(make_tank(owner) if owner else make_tank(), simulated(seed))
    recompute_pool()


def test_many_tanks_recover_the_effect(db):
    pool(40)
    found = PooledCurve.objects.get(level="all")
    assert found.low < 6 < found.high and found.n_keepers == 40


def test_groups_stand_beside_all(db):
    pool(20)
    names = set(PooledCurve.objects.filter(level="group").values_list("name", flat=True))
    assert names == {"sps", "lps"}


def test_four_keepers_are_too_few(db):
    pool(4)
    assert not PooledCurve.objects.exists()


def test_many_tanks_of_one_keeper_are_one_keeper(owner):
    pool(20, owner=owner)
    assert not PooledCurve.objects.exists()


@pytest.mark.parametrize(
    ("counts", "shown"),
    [([3, 3, 3, 3, 3], True), ([3, 3, 3, 3, 0], False), ([20, 3, 3, 3, 3], False)],
)
def test_cell_shows_only_where_no_keeper_stands_out(counts, shown):
    assert spread_out(np.array(counts)) == shown


def test_totals_are_those_of_the_cells_shown(db):
    pool(6)
    found = PooledCurve.objects.get(level="all")
    parts = [share.part[0] for share in PoolShare.objects.all()]
    visits = np.array([part["visits"] for part in parts])
    shown = [k for k in range(visits.shape[1]) if spread_out(visits[:, k])]
    assert [row[3] for row in found.bins] == visits.sum(0)[shown].tolist()


def test_each_cell_stands_at_the_mean_of_its_visits(db):
    pool(20)
    for low, high, _, _, middle in PooledCurve.objects.get(level="all").bins:
        assert low <= 2**middle <= (high or 99)


def test_parts_hold_counts_and_no_names():
    allowed = {"question", "level", "name", "visits", "events", "doses", "log_likelihood"}
    part = simulated(1)
    assert all(set(entry) == allowed for entry in part)
    assert {entry["name"] for entry in part} == {"", "sps", "lps"}


def test_part_of_a_tank_is_its_own_fit():
    entry = simulated(3, corals=40)[0]
    assert pooled_effect(entry["log_likelihood"]).ratio > 1


@pytest.fixture
def noted(tank):
    make_survey(tank, taken_at=timezone.now() - dt.timedelta(days=150))
    make_light_change(tank)
    make_note(make_coral(tank))
    PoolShare.objects.create(tank=tank)
    return tank


def test_unchanged_tank_is_not_worked_out_again(noted):
    assert refresh_parts(PoolShare.objects.all()) == 1
    assert refresh_parts(PoolShare.objects.all()) == 0


@pytest.mark.parametrize(
    "change",
    [
        lambda tank: make_note(tank.corals.first(), noted_on=tank.today() - dt.timedelta(days=3)),
        lambda tank: tank.corals.first().notes.update(also_seen=["growth"]),
        lambda tank: tank.light_changes.update(factor=0.5),
        lambda tank: tank.surveys.first().readings.filter(position=1).update(value_umol=9),
        lambda tank: tank.corals.first().spots.update(depth_cm=3),
        lambda tank: tank.corals.update(genus="Acropora"),
    ],
)
def test_any_entry_that_matters_changes_the_digest(noted, change):
    before = tank_digests([noted])
    change(noted)
    assert tank_digests([noted]) != before


def test_command_tells_what_it_did(noted):
    out = io.StringIO()
    call_command("pool_outcomes", stdout=out)
    assert out.getvalue().startswith("1 of 1 tanks changed; 0 curves")


def url(name, tank):
    return reverse(name, args=[tank.pk])


@pytest.mark.parametrize(
    ("who", "reads", "decides"),
    [("owner", 200, 302), ("co_keeper", 200, 403), ("viewer", 200, 403), ("stranger", 404, 404)],
)
def test_only_the_owner_decides(request, as_user, tank, who, reads, decides):
    client = as_user(request.getfixturevalue(who))
    assert client.get(url("pool_detail", tank)).status_code == reads
    assert client.post(url("pool_agree", tank)).status_code == decides
    assert PoolShare.objects.filter(tank=tank).exists() == (decides == 302)


def test_taken_out_nothing_is_left(as_user, owner, noted):
    as_user(owner).post(url("pool_withdraw", noted))
    assert not PoolShare.objects.exists()


def test_page_tells_the_odds_in_words(as_user, owner, tank):
    pool(30)
    page = as_user(owner).get(url("pool_detail", tank))
    shown = [one for _, curves in page.context["questions"] for one in curves]
    assert shown and all((one.curve.n_tanks, one.curve.n_keepers) == (30, 30) for one in shown)
    assert all(one.curve.low > 1 and one.verdict for one in shown)
    text = " ".join(page.content.decode().split())
    assert "30 tanks of 30 keepers" in text and all(one.verdict in text for one in shown)


def test_empty_pool_says_so(as_user, owner, tank):
    assert b"Nothing to show yet" in as_user(owner).get(url("pool_detail", tank)).content


def test_every_group_has_its_drawing_and_its_table(as_user, owner, tank):
    pool(30)
    page = as_user(owner).get(url("pool_detail", tank)).content.decode()
    drawn = re.findall(r'<title id="(lighter-[a-z-]+)"', page)
    assert drawn == ["lighter-all", "lighter-grouplps", "lighter-groupsps"]
    assert page.count("<thead>") == len(drawn)


def test_no_line_where_the_odds_are_not_known(as_user, owner, tank):
    pool(30)
    PooledCurve.objects.update(ratio=None, low=None, high=None)
    page = as_user(owner).get(url("pool_detail", tank)).content.decode()
    assert "Cannot tell" in page and 'class="curve"' not in page and "<thead>" in page


@pytest.mark.parametrize(
    ("low", "high", "starts"),
    [
        (1.01, 3.0, "Light goes with it"),
        (1.0, 3.0, "No clear sign"),
        (0.2, 0.99, "It is the other way round"),
        (0.2, 1.0, "No clear sign"),
    ],
)
def test_an_interval_of_odds_says_which_way_light_goes(low, high, starts):
    assert verdict_words(low, high).startswith(starts)
