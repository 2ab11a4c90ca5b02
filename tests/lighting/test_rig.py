"""Fixtures and what hangs above a tank: who may, what is kept, what is refused."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.history import light_history
from apps.lighting.models import Fixture, HungFixture, LightChange
from apps.lighting.rig import face_corners_cm, rig_in_force
from apps.photics.ground import scene
from tests.factories import hang, make_fixture, make_light_change, make_survey
from tests.lighting.test_light_log import FORM, list_url, new_url

NOW = timezone.now()
FIXTURE = {
    "name": "Blue panel", "kind": "panel", "lit_length_cm": "20", "lit_width_cm": "12,5",
    "optic": "angle", "beam_deg": "90°", "watts": "95 W", "ppf_umol_s": "", "zone": "display",
}  # fmt: skip


def rows(*typed, initial=0, more=False):
    """Return the POST of a light change with rows of what hangs above the tank."""
    names = ("fixture", "x_cm", "y_cm", "height_cm", "turn_deg", "tilt_deg", "beam_deg",
             "level_percent", "number", "loss_percent")  # fmt: skip
    usual = {"turn_deg": "0", "beam_deg": "", "level_percent": "100"}
    data = FORM | {"hung-TOTAL_FORMS": str(len(typed)), "hung-INITIAL_FORMS": str(initial)}
    for i, row in enumerate(typed):
        full = dict.fromkeys(names, "") | usual | row
        data |= {f"hung-{i}-{name}": value for name, value in full.items()}
    return data | ({"more": "1"} if more else {})


def row_of(fixture, **typed):
    """Return a typed row; `number` says which of those that hung before it is about."""
    return {"fixture": str(fixture.pk), "x_cm": "30", "y_cm": "25", "height_cm": "20"} | typed


# --- The library -----------------------------------------------------------------------------


def test_fixture_is_made_changed_removed_and_brought_back(as_user, owner):
    client = as_user(owner)
    assert client.post(reverse("fixture_new"), FIXTURE).status_code == 302
    fixture = Fixture.objects.get()
    assert (fixture.owner, fixture.lit_width_cm, fixture.watts) == (owner, 12.5, 95)
    client.post(reverse("fixture_edit", args=[fixture.pk]), FIXTURE | {"name": "Old panel"})
    assert "Old panel" in client.get(reverse("fixture_list")).content.decode()
    client.post(reverse("fixture_remove", args=[fixture.pk]))
    assert not Fixture.objects.owned_by(owner).exists()
    client.post(reverse("fixture_restore", args=[fixture.pk]))
    assert Fixture.objects.owned_by(owner).get() == fixture


@pytest.mark.parametrize("name", ["edit", "remove", "restore"])
@pytest.mark.parametrize("who", ["co_keeper", "viewer", "stranger"])
def test_library_is_its_owners_alone(request, as_user, owner, name, who):
    fixture = make_fixture(owner)
    client = as_user(request.getfixturevalue(who))
    url = reverse(f"fixture_{name}", args=[fixture.pk])
    assert client.post(url, FIXTURE).status_code == 404
    assert "Panel" not in client.get(reverse("fixture_list")).content.decode()


def test_wrong_fixture_comes_back_as_typed(as_user, owner):
    response = as_user(owner).post(reverse("fixture_new"), FIXTURE | {"lit_length_cm": "9000"})
    body = response.content.decode()
    assert response.status_code == 422 and 'value="9000"' in body and "Between 0.5 and 400" in body


def test_fixture_made_for_a_tank_leads_back_to_its_log(as_user, owner, tank):
    response = as_user(owner).post(reverse("fixture_new") + f"?for={tank.pk}", FIXTURE)
    assert response["Location"] == new_url(tank)


# --- What hangs above the tank ---------------------------------------------------------------


@pytest.mark.parametrize("who", ["owner", "co_keeper"])
def test_keepers_hang_their_fixtures(request, as_user, tank, who):
    user = request.getfixturevalue(who)
    panel = make_fixture(user)
    typed = rows(row_of(panel, level_percent="60 %"), row_of(panel, x_cm="50", beam_deg="55"))
    assert as_user(user).post(new_url(tank), typed).status_code == 302
    hung = list(LightChange.objects.get().hung.all())
    assert [(h.number, h.x_cm, h.level_percent, h.beam_deg) for h in hung] == [
        (1, 30, 60, None),
        (2, 50, 100, 55),
    ]
    assert len(light_history(tank).rig_at(NOW)) == 2


def test_viewer_hangs_nothing(as_user, viewer, tank):
    typed = rows(row_of(make_fixture(viewer)))
    assert as_user(viewer).post(new_url(tank), typed).status_code == 403
    assert not HungFixture.objects.exists()


def test_foreign_fixture_is_refused(as_user, owner, stranger, tank):
    response = as_user(owner).post(new_url(tank), rows(row_of(make_fixture(stranger))))
    assert response.status_code == 422 and not LightChange.objects.exists()


def test_fixture_that_hangs_there_may_be_moved_by_a_co_keeper(as_user, co_keeper, owner, tank):
    panel = make_fixture(owner)
    hang(make_light_change(tank, happened_at=NOW - dt.timedelta(days=400)), panel)
    typed = rows(row_of(panel, height_cm="35", number="1"), initial=1)
    assert as_user(co_keeper).post(new_url(tank), typed).status_code == 302
    assert rig_in_force(tank, NOW)[0].height_cm == 35


def test_wrong_cell_is_told_there_and_everything_typed_stays(as_user, owner, tank):
    panel = make_fixture(owner)
    typed = rows(row_of(panel), row_of(panel, x_cm="900", height_cm="high"))
    response = as_user(owner).post(new_url(tank), typed)
    body = response.content.decode()
    assert response.status_code == 422 and not LightChange.objects.exists()
    assert 'value="900"' in body and 'value="high"' in body and "Between -30 and 90 cm" in body
    assert 'id="id_hung-1-x_cm_error"' in body and 'id="id_hung-0-x_cm_error"' not in body
    assert 'value="Raised the left lamp"' in body


def test_numbers_without_a_fixture_are_not_dropped(as_user, owner, tank):
    make_fixture(owner)
    response = as_user(owner).post(new_url(tank), rows({"x_cm": "30"}))
    assert response.status_code == 422
    assert 'id="id_hung-0-fixture_error"' in response.content.decode()


def test_form_is_filled_with_the_rig_in_force(as_user, owner, tank):
    hang(make_light_change(tank), make_fixture(owner, name="Puck"), height_cm=17)
    body = as_user(owner).get(new_url(tank)).content.decode()
    assert 'name="hung-0-height_cm" value="17"' in body and "selected>Puck" in body


def test_rows_left_as_they_were_are_not_copied(as_user, owner, tank):
    panel = make_fixture(owner)
    hang(make_light_change(tank), panel, x_cm=30, y_cm=25, height_cm=20)
    assert (
        as_user(owner).post(new_url(tank), rows(row_of(panel, number="1"), initial=1)).status_code
        == 302
    )
    assert HungFixture.objects.count() == 1
    assert len(light_history(tank).rig_at(NOW)) == 1


def test_rows_are_the_whole_rig(as_user, owner, tank):
    panel = make_fixture(owner)
    change = make_light_change(tank)
    hang(change, panel, x_cm=10)
    hang(change, panel, x_cm=50)
    typed = rows(
        row_of(panel, x_cm="10", number="1") | {"DELETE": "on"},
        row_of(panel, x_cm="50", number="2"),
        initial=2,
    )
    as_user(owner).post(reverse("light_change_edit", args=[change.pk]), typed)
    assert [(h.number, h.x_cm) for h in change.hung.all()] == [(2, 50)]


def test_change_sent_without_rows_keeps_its_rig(as_user, owner, tank):
    change = make_light_change(tank)
    hang(change)
    as_user(owner).post(reverse("light_change_edit", args=[change.pk]), FORM)
    assert change.hung.count() == 1


def test_more_rows_keeps_what_was_typed_and_saves_nothing(as_user, owner, tank):
    panel = make_fixture(owner)
    typed = rows(row_of(panel, x_cm="7,5"), row_of(panel, y_cm="x"), more=True)
    response = as_user(owner).post(new_url(tank), typed)
    body = response.content.decode()
    assert response.status_code == 200 and not LightChange.objects.exists()
    assert 'value="7,5"' in body and 'name="hung-3-x_cm"' in body and 'value="-20 %"' in body
    assert "field__error" not in body


def test_inches_are_typed_by_who_reads_inches(as_user, owner, tank):
    owner.units = "in"
    owner.save()
    as_user(owner).post(new_url(tank), rows(row_of(make_fixture(owner), x_cm="10", y_cm="10")))
    hung = HungFixture.objects.get()
    assert (hung.x_cm, hung.height_cm) == (25.4, 50.8)


def test_first_entry_is_dated_before_the_oldest_survey(as_user, owner, tank):
    survey = make_survey(tank, taken_at=NOW - dt.timedelta(days=90))
    response = as_user(owner).get(new_url(tank))
    change = response.context["form"].instance
    assert change.happened_at < survey.taken_at and "oldest survey" in response.content.decode()
    make_light_change(tank)
    later = as_user(owner).get(new_url(tank)).context["form"].instance
    assert later.happened_at >= NOW


@pytest.mark.parametrize("who", ["owner", "viewer"])
def test_log_and_tank_tell_what_hangs(request, as_user, owner, tank, who):
    hang(make_light_change(tank), make_fixture(owner, name="Sun bar"), level_percent=45)
    client = as_user(request.getfixturevalue(who))
    log = client.get(list_url(tank)).content.decode()
    # Once for now, once for the difference, once for the whole rig of the entry.
    assert log.count("Sun bar") == 3 and "20 cm above the water, at 45 %" in log
    plan = client.get(reverse("tank_detail", args=[tank.pk])).content.decode()
    assert "plan__overhead" in plan and "Sun bar 1" in plan


def test_removed_fixture_still_hangs(as_user, owner, tank):
    panel = make_fixture(owner)
    hang(make_light_change(tank), panel)
    panel.remove()
    assert "Panel" in as_user(owner).get(list_url(tank)).content.decode()
    assert len(light_history(tank).rig_at(NOW)) == 1


def test_rig_before_the_first_telling_is_unknown(tank):
    hang(make_light_change(tank, happened_at=NOW - dt.timedelta(days=5)))
    assert rig_in_force(tank, NOW - dt.timedelta(days=6)) == []
    assert len(rig_in_force(tank, NOW)) == 1


def test_face_turned_by_a_quarter_lies_across():
    bar = scene.Fixture(30, 20, 15, 120, 40, 4, turn_deg=90)
    corners = face_corners_cm(bar)
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    assert (max(xs) - min(xs), max(ys) - min(ys)) == (pytest.approx(4), pytest.approx(40))


def opened(page):
    return [row.stands_open for row in page.context["rows"]]


def test_rows_of_several_fixtures_are_folded_up_until_they_are_told_anew(as_user, owner, tank):
    change = make_light_change(tank, day_hours=10)
    panel = make_fixture(owner)
    for x_cm in (15, 45):
        hang(change, panel, x_cm=x_cm)
    client, address = as_user(owner), reverse("light_change_new", args=[tank.pk])
    page = client.get(address)
    assert opened(page) == [False, False, False, False]
    assert not page.context["form"].opens_day and not page.context["form"].opens_factor
    typed = {"summary": "", "happened_at": "", "factor": "", "day_hours": "10", "ramp_hours": "0"}
    typed |= {f"hung-{k}": v for k, v in {"TOTAL_FORMS": 4, "INITIAL_FORMS": 2}.items()}
    for number, x_cm in enumerate((15, 45)):
        row = {"number": number + 1, "fixture": panel.pk, "x_cm": x_cm, "y_cm": 30}
        row |= {"height_cm": 20, "turn_deg": 0, "tilt_deg": 0, "level_percent": 100}
        typed |= {f"hung-{number}-{name}": value for name, value in row.items()}
    blank = {"turn_deg": "0", "tilt_deg": "0", "level_percent": "100"}
    typed |= {f"hung-{n}-{name}": value for n in (2, 3) for name, value in blank.items()}
    page = client.post(address, typed | {"hung-1-level_percent": "1000"})
    assert page.status_code == 422 and opened(page) == [False, True, False, False]


def test_the_only_fixture_stands_open_and_the_first_to_be_hung_too(as_user, owner, tank):
    client, address = as_user(owner), reverse("light_change_new", args=[tank.pk])
    panel = make_fixture(owner)
    page = client.get(address)
    assert opened(page) == [True, False] and page.context["form"].opens_day
    hang(make_light_change(tank), panel)
    assert opened(client.get(address)) == [True, False, False]
    more = client.post(address, {"more": "1", "hung-TOTAL_FORMS": "1", "hung-INITIAL_FORMS": "1"})
    assert all(opened(more))
