"""Tilted fixtures and fixtures with rays of their own, from the form to the light at a spot."""

import datetime as dt
from importlib import import_module

import numpy as np
import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from apps.lighting.change.summary import rig_differences
from apps.lighting.fixture.optic_saving import save_fixture
from apps.lighting.hanging import save_light_change
from apps.lighting.models import Fixture, LightChange, PhotometricFile, RayTable
from apps.lighting.rig import rig_in_force
from apps.lightmap.lightmap import tank_light
from apps.photics.rig.optic_fit import fit_optic
from tests.factories import hang, make_fixture, make_light_change, make_lit_survey
from tests.lighting.test_light_log import list_url, new_url
from tests.lighting.test_rig import row_of, rows
from tests.photics.photometric_files import ies_text, lopsided

NOW = timezone.now()
SOME_TIME_AGO = NOW - dt.timedelta(days=400)
BAD_TILTS = [("80", "75"), ("-90", "75"), ("steep", "number"), ("nan", "number")]


def typed_row(fixture, **typed):
    return rows(row_of(fixture, number="1", **typed), initial=1)


def hung_long_ago(tank, **overrides):
    return hang(make_light_change(tank, happened_at=SOME_TIME_AGO), make_fixture(tank.owner),
                x_cm=30, y_cm=25, **overrides)  # fmt: skip


def test_tilting_is_kept_told_and_shown(as_user, owner, tank):
    hung, client = hung_long_ago(tank), as_user(owner)
    typed = typed_row(hung.fixture, tilt_deg="-20°")
    assert client.post(new_url(tank), typed).status_code == 302
    (row,) = rig_in_force(tank, timezone.now())
    assert (row.tilt_deg, row.told) == (-20.0, ["tilt_deg"])
    page = client.get(list_url(tank)).content.decode()
    assert "tilted 0 → -20°" in page and "tilted by -20°" in page


def test_a_blank_tilt_is_level(as_user, owner, tank):
    hung = hung_long_ago(tank, tilt_deg=15)
    as_user(owner).post(new_url(tank), typed_row(hung.fixture, tilt_deg=""))
    assert rig_in_force(tank, timezone.now())[0].tilt_deg == 0


def test_a_folded_row_says_its_tilt(as_user, owner, tank):
    change = make_light_change(tank, happened_at=SOME_TIME_AGO)
    hang(change, tilt_deg=-20)
    hang(change)
    page = as_user(owner).get(new_url(tank)).content.decode()
    folds = [text.split("</summary>")[0] for text in page.split("<summary>")]
    said = [one for one in folds if "above water" in one]
    assert ["tilted by" in one for one in said] == [True, False]
    assert ">-20</span>°" in said[0]


def test_a_page_that_asks_for_no_tilt_leaves_it(as_user, owner, tank):
    hung = hung_long_ago(tank, tilt_deg=15)
    typed = typed_row(hung.fixture, level_percent="60")
    del typed["hung-0-tilt_deg"]
    assert as_user(owner).post(new_url(tank), typed).status_code == 302
    (row,) = rig_in_force(tank, timezone.now())
    assert (row.tilt_deg, row.told) == (15, ["level_percent"])


@pytest.mark.parametrize(("typed", "said"), BAD_TILTS)
def test_wrong_tilt_is_told_at_its_field_and_stays(as_user, owner, tank, typed, said):
    hung = hung_long_ago(tank)
    response = as_user(owner).post(new_url(tank), typed_row(hung.fixture, tilt_deg=typed))
    page = response.content.decode()
    assert response.status_code == 422 and f'value="{typed}"' in page
    error = page.split('id="id_hung-0-tilt_deg_error"')[1].split("</p>")[0]
    assert said in error
    assert LightChange.objects.count() == 1


def test_wrong_tilt_is_refused_by_the_model(tank):
    hung = hung_long_ago(tank)
    hung.tilt_deg = 80
    with pytest.raises(ValidationError) as refused:
        hung.full_clean()
    assert "tilt_deg" in refused.value.message_dict


@pytest.mark.parametrize(("height", "errors"), [(5.0, {"height_cm"}), (5.1, set())])
def test_lower_edge_may_not_touch_the_water(tank, height, errors):
    """20 cm wide and tilted by 30 degrees, its edge hangs 5 cm below its middle."""
    hung = hung_long_ago(tank, tilt_deg=30)
    hung.height_cm, found = height, {}
    try:
        hung.full_clean()
    except ValidationError as problem:
        found = problem.message_dict
    assert set(found) == errors


def test_lower_edge_in_the_water_is_told_at_the_height(as_user, owner, tank):
    hung = hung_long_ago(tank)
    typed = typed_row(hung.fixture, tilt_deg="60", height_cm="3")
    response = as_user(owner).post(new_url(tank), typed)
    page = response.content.decode()
    assert response.status_code == 422
    assert "in the water" in page.split('id="id_hung-0-height_cm_error"')[1].split("</p>")[0]


def test_a_tilt_dated_back_is_followed_by_later_changes(tank):
    """A later change that tells the level alone keeps to the tilt entered for a day before it."""
    hung_long_ago(tank)
    later = make_light_change(tank, happened_at=NOW - dt.timedelta(days=5), reason="level")
    (row,) = rig_in_force(tank, later.happened_at)
    row.level_percent, row.told = 60, ["level_percent"]
    save_light_change(change=later, hung=[row])
    between = make_light_change(tank, happened_at=NOW - dt.timedelta(days=20), reason="moved")
    (row,) = rig_in_force(tank, between.happened_at)
    row.tilt_deg, row.told = 25, ["tilt_deg"]
    save_light_change(change=between, hung=[row])
    row = rig_in_force(tank, NOW)[0]
    assert (row.tilt_deg, row.level_percent) == (25, 60)


def light_at(tank, places):
    found = tank_light(tank).at(np.array(places, float), timezone.now())
    return [spot.par_umol for spot in found]


def test_the_map_follows_a_tilt(tank):
    """Tilted to the back, the front loses light and the back gains; the middle is between."""
    make_lit_survey(tank, taken_at=NOW - dt.timedelta(days=3))
    front, back = (30, 8, 20), (30, 52, 20)
    before = light_at(tank, [front, back])
    change = make_light_change(tank, happened_at=NOW - dt.timedelta(days=1), reason="moved")
    (row,) = rig_in_force(tank, change.happened_at)
    row.tilt_deg, row.told = 30, ["tilt_deg"]
    save_light_change(change=change, hung=[row])
    after = light_at(tank, [front, back])
    assert after[0] < 0.8 * before[0] and after[1] > 1.15 * before[1]


# --- A photometric file's own rays ------------------------------------------------------------


def with_file(client, fixture, light=lopsided):
    text = ies_text(light, horizontal=tuple(range(0, 361, 15)))
    response = client.post(reverse("fixture_optic", args=[fixture.pk]), {"text": text})
    assert response.status_code == 302
    fixture.refresh_from_db()
    return fixture


def test_what_is_hung_shines_as_its_file_says(as_user, owner, tank):
    fixture = with_file(as_user(owner), make_fixture(owner))
    hung = hang(make_light_change(tank), fixture)
    optic = hung.scene().optic
    # Three tenths brighter along the fixture's length than the mean, three tenths darker behind.
    ahead, behind = (optic.look_up(np.array(40.0), np.array(turn))[0] for turn in (0.0, 180.0))
    assert ahead / behind == pytest.approx(1.3 / 0.7, rel=0.01)
    hung.beam_deg = 55
    assert hung.scene().optic is None
    # Told as a lens, its own beam is its own optic, as in a layout.
    hung.beam_deg = hung.own_beam_deg
    assert hung.scene().optic == optic


def test_another_file_does_not_rewrite_what_hung(as_user, owner, tank):
    client = as_user(owner)
    fixture = with_file(client, make_fixture(owner))
    hung = hang(make_light_change(tank), fixture)
    first = hung.scene().optic
    with_file(client, fixture, lambda a, c: lopsided(a, c + 180))
    hung.refresh_from_db()
    assert hung.scene().optic == first and RayTable.objects.count() == 2
    assert hang(make_light_change(tank), fixture).scene().optic != first


def test_the_same_file_twice_is_stored_once(as_user, owner):
    client = as_user(owner)
    for _ in range(2):
        with_file(client, make_fixture(owner))
    assert RayTable.objects.count() == 1


def test_correcting_a_fixture_brings_its_file_to_what_hangs(as_user, owner, tank):
    client, fixture = as_user(owner), make_fixture(owner)
    hung = hang(make_light_change(tank), fixture)
    with_file(client, fixture)
    typed = {
        "name": fixture.name, "kind": "panel", "lit_length_cm": "20", "lit_width_cm": "12",
        "optic": "file", "beam_deg": "", "zone": "display", "correct_hung": "on",
    }  # fmt: skip
    assert client.post(reverse("fixture_edit", args=[fixture.pk]), typed).status_code == 302
    hung.refresh_from_db()
    assert hung.rays_id == fixture.measured.rays_id and hung.scene().optic is not None


def test_file_long_across_is_turned_to_the_fixtures_length(as_user, owner):
    """The file's opening is twice as long across as along; the fixture is long along."""
    fixtures = [
        make_fixture(owner, lit_length_cm=a, lit_width_cm=b) for a, b in ((40, 10), (10, 40))
    ]
    turned = [with_file(as_user(owner), fixture).measured.rays_id for fixture in fixtures]
    assert turned[0] != turned[1]


def toward(optic, turn_deg):
    """What an optic sends at 40 degrees from its axis, beside its lobe."""
    return float(optic.look_up(np.array(40.0), np.array(turn_deg))[0])


def test_rays_turn_with_the_side_told_as_the_longer_one(as_user, owner, tank):
    """Told 10 by 40 instead of 40 by 10, the file's rays lie a quarter turn round."""
    client = as_user(owner)
    fixture = with_file(client, make_fixture(owner, lit_length_cm=40, lit_width_cm=10))
    hung = hang(make_light_change(tank), fixture)
    before = hung.scene().optic
    typed = {
        "name": fixture.name, "kind": "panel", "lit_length_cm": "10", "lit_width_cm": "40",
        "optic": "file", "beam_deg": "", "zone": "display", "correct_hung": "on",
    }  # fmt: skip
    assert client.post(reverse("fixture_edit", args=[fixture.pk]), typed).status_code == 302
    hung.refresh_from_db()
    assert hung.rays_id == Fixture.objects.get().measured.rays_id
    after = hung.scene().optic
    assert [toward(after, turn - 90.0) for turn in (0.0, 60.0)] == pytest.approx(
        [toward(before, turn) for turn in (0.0, 60.0)]
    )
    assert toward(after, 0.0) != pytest.approx(toward(before, 0.0), rel=0.1)


def test_rays_of_files_brought_before_there_were_rays_are_turned_too(as_user, owner, tank):
    """Long across, where 0011 took a file's 0-degree plane for the fixture's length."""
    fixture = with_file(as_user(owner), make_fixture(owner, lit_length_cm=10, lit_width_cm=40))
    file, rightly = fixture.measured, fixture.measured.rays_id
    file.rays = RayTable.holding(fit_optic(file.photometry()).optic)
    file.save()
    hung = hang(make_light_change(tank), fixture)
    assert hung.rays_id == file.rays_id != rightly
    import_module("apps.lighting.migrations.0013_rays_along_length").turn_rays(apps, None)
    hung.refresh_from_db()
    assert hung.rays_id == PhotometricFile.objects.get().rays_id == rightly


def test_rays_stay_where_the_longer_side_does(as_user, owner):
    client = as_user(owner)
    fixture = with_file(client, make_fixture(owner, lit_length_cm=40, lit_width_cm=10))
    rays = fixture.measured.rays_id
    fixture.lit_length_cm = 38
    save_fixture(fixture=fixture)
    assert PhotometricFile.objects.get().rays_id == rays


def test_another_make_of_rays_is_told_as_another_make(as_user, owner, tank):
    fixture = make_fixture(owner)
    plain = hang(make_light_change(tank, happened_at=SOME_TIME_AGO), fixture)
    with_file(as_user(owner), fixture)
    measured = hang(make_light_change(tank), fixture, number=1)
    (told,) = rig_differences([plain], [measured], unit="cm")
    assert "told as another make" in told.words
