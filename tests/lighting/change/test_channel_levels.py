"""Levels of single channels in a light change: kept, weighed by their shares, told in words."""

import datetime as dt
import re
from urllib.parse import parse_qs, urlsplit

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from apps.lighting.change.address import light_change_address
from apps.lighting.change.summary import Step, rig_differences
from apps.lighting.hanging import correct_hangings, save_light_change
from apps.lighting.history import light_history
from apps.lighting.models import HungFixture, LightChange
from apps.lighting.rig import rig_in_force
from tests.factories import hang, make_fixture, make_light_change
from tests.lighting.change.test_light_log import list_url, new_url
from tests.lighting.fixture.test_rig import row_of, rows

NOW = timezone.now()
CHANNELS = [
    {"name": "Royal blue", "peak_nm": 450, "share_percent": 60},
    {"name": "White", "white_kelvin": 10000, "share_percent": 40},
]


@pytest.fixture
def bar(owner):
    return make_fixture(owner, name="Sun bar", channels=CHANNELS)


@pytest.fixture
def hung(tank, bar):
    """The bar, hung long ago with its blue at 80 %."""
    change = make_light_change(tank, factor=1, happened_at=NOW - dt.timedelta(days=400))
    return hang(change, bar, channel_levels={"Royal blue": 80})


def cells(fixture, *levels):
    return {f"channel_{fixture.pk}_{i}": level for i, level in enumerate(levels)}


def kept(fixture, hung, *levels, **typed):
    """The POST of a row that hung before, with levels of its channels."""
    number = {"number": str(hung.number), "x_cm": f"{hung.x_cm:g}", "y_cm": f"{hung.y_cm:g}"}
    return rows(row_of(fixture, **number, **cells(fixture, *levels), **typed), initial=1)


def test_effective_level_is_the_sum_of_levels_by_shares(hung):
    hung.level_percent = 50
    # Half of 0.6 x 80 % and 0.4 x 100 %.
    assert hung.light_percent == pytest.approx(44.0)
    assert hung.scene().level == pytest.approx(0.44)


def test_all_channels_full_is_the_level_itself(hung):
    hung.channel_levels, hung.level_percent = {}, 37.3
    assert hung.light_percent == 37.3


@pytest.mark.parametrize(
    "levels", [{"Red": 50}, {"White": 101}, {"White": -1}, {"White": True}, {"White": "50"}, [50]]
)
def test_levels_that_are_none_are_refused(hung, levels):
    hung.channel_levels = levels
    with pytest.raises(ValidationError):
        hung.full_clean()


def test_form_shows_the_channels_that_hang_and_keeps_what_is_typed(as_user, owner, tank, bar, hung):
    client = as_user(owner)
    body = client.get(new_url(tank)).content.decode()
    assert f'name="hung-0-channel_{bar.pk}_0" value="80"' in body and "Royal blue" in body
    client.post(new_url(tank), kept(bar, hung, "60 %", "100"))
    (row,) = rig_in_force(tank, timezone.now())
    assert (row.channel_levels, row.told) == ({"Royal blue": 60}, ["channel_levels"])
    assert "Royal blue 80 → 60\u00a0%" in client.get(list_url(tank)).content.decode()


def test_co_keeper_sets_levels_and_viewer_does_not(as_user, co_keeper, viewer, tank, bar, hung):
    assert as_user(viewer).post(new_url(tank), kept(bar, hung, "10", "10")).status_code == 403
    as_user(co_keeper).post(new_url(tank), kept(bar, hung, "70", "100"))
    assert rig_in_force(tank, timezone.now())[0].channel_levels == {"Royal blue": 70}


def test_wrong_level_is_told_at_its_cell_with_all_typed_kept(as_user, owner, tank, bar, hung):
    response = as_user(owner).post(new_url(tank), kept(bar, hung, "140", "33"))
    body = response.content.decode()
    assert response.status_code == 422 and 'value="140"' in body and 'value="33"' in body
    assert f'id="id_hung-0-channel_{bar.pk}_0"' in body and 'aria-invalid="true"' in body


def test_rows_without_cells_leave_the_levels(as_user, owner, tank, bar, hung):
    as_user(owner).post(new_url(tank), kept(bar, hung, height_cm="30"))
    (row,) = rig_in_force(tank, timezone.now())
    assert (row.height_cm, row.channel_levels) == (30, {"Royal blue": 80})


def test_new_fixture_gets_cells_by_more_rows_without_script(as_user, owner, tank, bar):
    client = as_user(owner)
    body = client.post(new_url(tank), rows(row_of(bar), more=True)).content.decode()
    assert f'name="hung-0-channel_{bar.pk}_1" value="100"' in body
    client.post(new_url(tank), rows(row_of(bar, **cells(bar, "50", ""))))
    assert rig_in_force(tank, timezone.now())[0].channel_levels == {"Royal blue": 50}


def test_more_rows_keeps_the_levels_typed(as_user, owner, tank, bar, hung):
    data = kept(bar, hung, "12,5", "90") | {"more": "1"}
    assert 'value="12,5"' in as_user(owner).post(new_url(tank), data).content.decode()


def test_another_fixture_in_the_row_takes_no_levels_of_the_old(as_user, owner, tank, bar, hung):
    plain = make_fixture(owner, name="Plain")
    typed = row_of(plain, number=str(hung.number), **cells(bar, "50", "50"))
    as_user(owner).post(new_url(tank), rows(typed, initial=1))
    (row,) = rig_in_force(tank, timezone.now())
    assert (row.name, row.channel_levels) == ("Plain", {})


def test_entry_dated_back_reaches_later_ones_but_not_their_own_levels(tank, bar, hung):
    for days, levels in ((5, {"White": 50}), (8, {"Royal blue": 30})):
        change = LightChange(tank=tank, happened_at=NOW - dt.timedelta(days=days), summary="Mixed")
        (row,) = rig_in_force(tank, change.happened_at)
        row.channel_levels, row.told = levels, ["channel_levels"]
        save_light_change(change=change, hung=[row])
    assert rig_in_force(tank, NOW - dt.timedelta(days=7))[0].channel_levels == {"Royal blue": 30}
    assert rig_in_force(tank, NOW)[0].channel_levels == {"White": 50}


def test_words_tell_each_channel_and_what_they_give_together():
    before, after = (
        HungFixture(
            number=1, name="Bar", channels=CHANNELS, level_percent=100, channel_levels=levels
        )
        for levels in ({"Royal blue": 80}, {"Royal blue": 60, "White": 50})
    )
    (stated,) = rig_differences([before], [after], unit="cm")
    assert stated.steps == (
        Step("channel_levels", 80, 60, "Royal blue"),
        Step("channel_levels", 100, 50, "White"),
        Step("light_percent", pytest.approx(88), pytest.approx(56)),
    )
    assert all(
        step.channel in words for step, words in zip(stated.steps, stated.words, strict=True)
    )


def test_history_follows_the_effective_level(tank, hung):
    assert light_history(tank).rig_at(NOW)[0].level == pytest.approx(0.88)


def test_channel_renamed_in_the_library_keeps_its_level_where_it_hangs(owner, bar, hung):
    bar.channels = [CHANNELS[0] | {"name": "Deep blue"}, CHANNELS[1]]
    bar.save()
    correct_hangings(bar, owner)
    hung.refresh_from_db()
    assert hung.channel_levels == {"Deep blue": 80} and hung.light_percent == pytest.approx(88)


def test_address_of_a_rig_carries_its_levels(as_user, owner, tank, hung):
    address = light_change_address(tank.pk, [hung], summary="s", reason="level", unit="cm")
    query = parse_qs(urlsplit(address).query)
    assert query[f"hung-0-channel_{hung.fixture_id}_0"] == ["80"]
    assert (
        f'channel_{hung.fixture_id}_0" value="80"' in as_user(owner).get(address).content.decode()
    )


def test_mix_becomes_a_light_change_filled_in(as_user, owner, tank, bar, hung):
    client = as_user(owner)
    url = reverse("fixture_mix", args=[bar.pk])
    page = client.get(url, {"level0": "80", "level1": "55", "fresh": "1"})
    (over,) = page.context["over"]
    assert "level0=80&level1=100&fresh=1" in over.start_url
    assert over.tank == tank.name and over.change_url.replace("&", "&amp;") in page.content.decode()
    answer = client.get(over.change_url)
    form = answer.content.decode()
    assert f'channel_{bar.pk}_0" value="80"' in form and f'channel_{bar.pk}_1" value="55"' in form
    assert re.findall(r"\d+", answer.context["form"]["summary"].value()) == ["80", "55"]


def test_mix_is_offered_only_where_the_fixture_hangs_now(as_user, owner, tank, bar, hung):
    url = reverse("fixture_mix", args=[make_fixture(owner, name="B", channels=CHANNELS).pk])
    assert as_user(owner).get(url).context["over"] == ()
