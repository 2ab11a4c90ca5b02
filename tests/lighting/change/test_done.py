"""Light changes entered by what was done: one number, the same record as the whole form."""

import datetime as dt
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.change.done_views import NUMBER_FIRST
from apps.lighting.models import LightChange
from apps.lighting.rig import rig_in_force
from tests.factories import (
    hang,
    make_coral,
    make_fixture,
    make_light_change,
    make_lit_survey,
    make_tank,
)

NOW = timezone.now()


def url(tank, what=""):
    return reverse("light_change_done", args=[tank.pk]) + (f"?what={what}" if what else "")


def typed(**fields):
    when = timezone.localtime(timezone.now()).strftime("%Y-%m-%dT%H:%M")
    return {"happened_at": when, "summary": ""} | {k: str(v) for k, v in fields.items()}


@pytest.fixture
def rig(tank):
    """Two panels of one kind over the display, one of another over the refugium."""
    change = make_light_change(tank, happened_at=NOW - dt.timedelta(days=30), factor=1)
    panel = make_fixture(tank.owner)
    hang(change, panel, x_cm=20, height_cm=20, level_percent=80)
    hang(change, panel, x_cm=40, height_cm=24, level_percent=60)
    hang(change, make_fixture(tank.owner, name="Refugium", zone="refugium"), height_cm=10)
    return change


def after(tank):
    return rig_in_force(tank, timezone.now())


def send(client, tank, what, **fields):
    return client.post(url(tank, what), typed(**fields))


@pytest.mark.parametrize(
    ("what", "fields", "name", "values"),
    [
        ("lowered", {"by_cm": "8"}, "height_cm", [12, 16, 10]),
        ("raised", {"by_cm": "2 in"}, "height_cm", [25.08, 29.08, 10]),
        ("raised", {"by_cm": 5, "number": 2}, "height_cm", [20, 29, 10]),
        ("level", {"percent": "70 %"}, "level_percent", [70, 70, 100]),
        ("lens", {"beam_deg": 60, "number": 1}, "beam_deg", [60, None, None]),
        ("moved", {"along_cm": -3, "back_cm": 4, "number": 2}, "x_cm", [20, 37, 30]),
    ],
)
def test_one_number_changes_all_lamps_or_one(as_user, owner, tank, rig, what, fields, name, values):
    assert send(as_user(owner), tank, what, **fields).status_code == 302
    assert [getattr(row, name) for row in after(tank)] == pytest.approx(values)
    change = tank.light_changes.exclude(pk=rig.pk).get()
    assert (change.reason, change.factor, change.created_by) == (what, 1, owner)


def test_cleaning_keeps_the_rig_and_takes_a_percentage(as_user, owner, tank, rig):
    send(as_user(owner), tank, "cleaned", percent="8")
    change = tank.light_changes.exclude(pk=rig.pk).get()
    assert (change.reason, change.factor, change.tells_rig) == ("cleaned", 1.08, False)
    send(as_user(owner), tank, "cleaned", percent="")
    assert tank.light_changes.filter(reason="cleaned").latest("pk").factor == 1


def test_new_lamp_hangs_where_the_old_one_hung(as_user, owner, tank, rig):
    bar = make_fixture(owner, name="Bar", kind="bar")
    send(as_user(owner), tank, "lamp", fixture=bar.pk, number=2, percent=50)
    names = {row.name: row for row in after(tank)}
    assert (names["Bar"].x_cm, names["Bar"].height_cm, names["Bar"].level_percent) == (40, 24, 50)
    assert tank.light_changes.latest("pk").taken_down == [2]


def test_the_same_kind_again_counts_as_new_tubes(as_user, owner, tank, rig):
    send(as_user(owner), tank, "lamp", fixture="")
    change = tank.light_changes.exclude(pk=rig.pk).get()
    assert (change.reason, change.tells_rig) == (LightChange.Reason.TUBES, False)


@pytest.mark.parametrize(
    ("what", "fields", "place"),
    [
        ("lowered", {"by_cm": "60"}, "by_cm"),
        ("lowered", {"by_cm": ""}, "by_cm"),
        ("raised", {"by_cm": "x"}, "by_cm"),
        ("raised", {"by_cm": "280"}, "by_cm"),
        ("level", {"percent": "170"}, "percent"),
        ("level", {"percent": "80", "number": 1}, "percent"),
        ("level", {"percent": "50", "number": 9}, "number"),
        ("cleaned", {"percent": "99999"}, "percent"),
        ("lens", {"beam_deg": "0"}, "beam_deg"),
        ("moved", {"along_cm": "100", "number": 1}, "along_cm"),
        ("moved", {}, "__all__"),
        ("level", {"percent": "50", "happened_at": "2999-01-01T10:00"}, "happened_at"),
        ("lowered", {"by_cm": "1", "happened_at": "2001-01-01T10:00"}, "by_cm"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(as_user, owner, tank, rig, what, fields, place):
    response = send(as_user(owner), tank, what, **fields)
    assert response.status_code == 422 and place in response.context["form"].errors
    assert tank.light_changes.count() == 1


@pytest.mark.parametrize(
    ("what", "fields", "lengths"),
    [
        ("lowered", {"by_cm": "30", "number": 1}, ["20", "20"]),
        ("lowered", {"by_cm": "30"}, ["20", "20"]),
        ("raised", {"by_cm": "280", "number": 2}, ["24", "276"]),
        ("raised", {"by_cm": "280"}, ["24", "276"]),
    ],
)
def test_a_lamp_out_of_reach_is_one_sentence_with_the_most(
    as_user, owner, tank, rig, what, fields, lengths
):
    (said,) = send(as_user(owner), tank, what, **fields).context["form"].errors["by_cm"]
    assert re.findall(r"[\d.]+", said.removesuffix(".")) == lengths
    assert "Panel" not in said and "Ensure" not in said


def test_a_lamp_out_of_reach_is_said_in_the_keepers_unit(as_user, owner, tank, rig):
    owner.units = "in"
    owner.save()
    (said,) = (
        send(as_user(owner), tank, "lowered", by_cm="11", number=1).context["form"].errors["by_cm"]
    )
    assert re.findall(r"[\d.]+ in", said) == ["8 in", "8 in"]


def test_foreign_fixture_is_no_new_lamp(as_user, owner, stranger, tank, rig):
    response = send(as_user(owner), tank, "lamp", fixture=make_fixture(stranger).pk)
    assert response.status_code == 422 and "fixture" in response.context["form"].errors


def test_without_lamps_the_whole_form_is_asked(as_user, owner, tank):
    response = as_user(owner).get(url(tank))
    assert response["Location"] == reverse("light_change_new", args=[tank.pk])


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_say_what_was_done(request, as_user, tank, rig, who, status):
    client = as_user(request.getfixturevalue(who))
    assert client.get(url(tank, "lowered")).status_code == status
    sent = send(client, tank, "lowered", by_cm=3)
    assert sent.status_code == (302 if status == 200 else status)


# --- What it would do ------------------------------------------------------------------------


def looked(client, tank, what, **fields):
    return client.post(url(tank, what), typed(effect=1, **fields), headers={"HX-Request": "true"})


@pytest.fixture
def lit(tank):
    make_lit_survey(tank, taken_at=NOW - dt.timedelta(days=3))
    coral = make_coral(tank, at_cm=(30, 30, 20))
    return tank, coral


def test_effect_follows_the_number_and_writes_nothing(as_user, owner, lit):
    tank, _ = lit
    before = tank.light_changes.count()
    half = looked(as_user(owner), tank, "level", percent=50).context["effect"]
    assert half.ratio == pytest.approx(0.5, rel=0.01) and half.corals == 1
    nearer = looked(as_user(owner), tank, "lowered", by_cm=8).context["effect"]
    # Nearer to the water its pool is narrower: brighter below it, darker beside it.
    assert nearer.low_ratio < nearer.ratio < 1 < nearer.high_ratio and nearer.span_words
    cleaned = looked(as_user(owner), tank, "cleaned", percent=10).context["effect"]
    assert cleaned.ratio == pytest.approx(1.1)
    assert tank.light_changes.count() == before


def test_effect_names_the_corals_that_leave_their_band(as_user, owner, lit):
    tank, coral = lit
    now = looked(as_user(owner), tank, "level", percent=99).context["effect"]
    par = looked(as_user(owner), tank, "level", percent=1).context["effect"]
    assert now.moves == () and par.staying in (0, 1)
    coral.band_low_umol, coral.band_high_umol = 1, 1500
    coral.save()
    moves = looked(as_user(owner), tank, "level", percent=0.1).context["effect"].moves
    assert [(move.name, move.key) for move in moves] == [(coral.name, "below")]


def test_effect_says_why_it_has_no_number(as_user, owner, tank, rig):
    effect = looked(as_user(owner), tank, "level", percent="").context["effect"]
    assert effect.ratio is None and effect.remark == NUMBER_FIRST
    wrong = looked(as_user(owner), tank, "level", percent=170).context["effect"]
    assert wrong.ratio is None and "100" in wrong.remark
    unread = looked(as_user(owner), tank, "level", percent=50).context["effect"]
    assert unread.ratio is None and unread.remark
    earlier = timezone.localtime(NOW - dt.timedelta(days=40)).strftime("%Y-%m-%dT%H:%M")
    followed = looked(as_user(owner), tank, "level", percent=50, happened_at=earlier)
    assert followed.context["effect"].remark


def test_effect_shows_without_scripts_too(as_user, owner, lit):
    tank, _ = lit
    page = as_user(owner).post(url(tank, "level"), typed(percent=50, effect=1))
    assert page.status_code == 200 and page.context["effect"].ratio == pytest.approx(0.5, rel=0.01)
    assert 'value="50"' in page.content.decode()


def test_check_readings_are_offered_after_saving(as_user, owner, viewer, lit):
    tank, _ = lit
    client = as_user(owner)
    log = client.get(send(client, tank, "level", percent=60)["Location"])
    assert [offer.url for offer in log.context["checks"]] == [reverse("check_new", args=[tank.pk])]
    seen = as_user(viewer).get(reverse("light_change_list", args=[tank.pk]))
    assert seen.context["checks"] == []


# --- Two tanks under one lamp ----------------------------------------------------------------


@pytest.fixture
def beside(tank, rig, owner):
    """A second tank of the keeper's under one of the first's lamps."""
    other = make_tank(owner, name="Frag tank")
    change = make_light_change(other, happened_at=NOW - dt.timedelta(days=20), factor=1)
    hang(change, rig.hung.get(number=1).fixture, height_cm=30)
    hang(change, make_fixture(owner, name="Own lamp"), height_cm=40)
    return other


def test_one_lamp_over_two_tanks_is_entered_once(as_user, owner, tank, beside):
    send(as_user(owner), tank, "lowered", by_cm=5, also_over=beside.pk)
    assert [row.height_cm for row in after(tank)] == [15, 19, 10]
    assert [row.height_cm for row in after(beside)] == [25, 40]


def test_two_tanks_are_two_entries_only_where_chosen(as_user, owner, tank, beside):
    send(as_user(owner), tank, "lowered", by_cm=5)
    assert [row.height_cm for row in after(beside)] == [30, 40]


def test_neither_tank_is_written_where_one_cannot_be(as_user, owner, tank, beside):
    beside.light_changes.get().hung.filter(number=1).update(height_cm=4)
    response = send(as_user(owner), tank, "lowered", by_cm=10, also_over=beside.pk)
    assert response.status_code == 422 and "by_cm" in response.context["form"].errors
    assert (tank.light_changes.count(), beside.light_changes.count()) == (1, 1)


def test_only_a_keepers_own_tanks_under_that_lamp_are_offered(
    as_user, owner, stranger, tank, rig, beside
):
    make_tank(owner, name="Without")
    foreign = make_tank(stranger)
    hang(make_light_change(foreign), rig.hung.get(number=1).fixture)
    form = as_user(owner).get(url(tank, "lowered")).context["form"]
    assert list(form.fields["also_over"].queryset) == [beside]
    refused = send(as_user(owner), tank, "lowered", by_cm=2, also_over=foreign.pk)
    assert refused.status_code == 422 and foreign.light_changes.count() == 1
