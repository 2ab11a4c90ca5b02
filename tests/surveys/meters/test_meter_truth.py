"""What a meter's reading is worth: water, colour, age of the check, lux; and the light state."""

import datetime as dt
import re

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from apps.lightmap.channels.channels import MixField, channel_parts, sum_check
from apps.lightmap.lightmap import tank_light
from apps.photics.day.cross_check import Ratio
from apps.surveys.meters.cross_check import meters_verdict
from apps.surveys.models import Meter, Survey
from tests.factories import grid_readings, make_meter, make_survey, make_tank

HEAD = {"taken_at": "2026-03-01T14:30", "meter": "", "level_percent": "80"}


def test_a_sensor_calibrated_in_air_reads_low_under_water(as_user, owner, tank):
    """Tyler & Smith 1970: true = reading x immersion factor, so the corrected PAR is higher."""
    meter = make_meter(owner, immersion_factor=1.25)
    as_user(owner).post(reverse("survey_new", args=[tank.pk]), HEAD | {"meter": meter.pk})
    survey = Survey.objects.get()
    survey.readings.create(position=1, x_cm=1, y_cm=1, depth_cm=1, value_umol=100)
    assert survey.readings.get().par_umol == pytest.approx(125.0)
    assert survey.readings.get().value_umol == 100.0


def test_a_meter_that_corrects_for_water_is_not_corrected_twice(owner):
    meter = make_meter(owner, immersion_factor=1.25, corrects_for_water=True, correction_factor=1.1)
    assert meter.total_factor() == pytest.approx(1.1)


def test_a_new_colour_factor_leaves_the_meters_part(as_user, owner, tank):
    meter = make_meter(owner, correction_factor=1.3)
    survey = make_survey(tank, meter=meter, correction_factor=1.1)
    form = HEAD | {"meter": meter.pk, "spectral_factor": "1.2"}
    as_user(owner).post(reverse("survey_edit", args=[survey.pk]), form)
    survey.refresh_from_db()
    assert survey.correction_factor == pytest.approx(1.1 * 1.2)


def test_colour_and_calibration_multiply(as_user, owner, tank):
    meter = make_meter(owner, correction_factor=1.1, immersion_factor=1.2)
    client = as_user(owner)
    client.post(
        reverse("survey_new", args=[tank.pk]), HEAD | {"meter": meter.pk, "spectral_factor": "1,05"}
    )
    survey = Survey.objects.get()
    assert survey.correction_factor == pytest.approx(1.1 * 1.2 * 1.05)
    assert not survey.factor_is_stale()
    page = client.get(reverse("survey_detail", args=[survey.pk])).content.decode()
    assert "1.1 calibration × 1.2 water × 1.05 colour" in " ".join(page.split())


def test_factors_that_are_sound_alone_and_not_together_are_refused_at_the_field(
    as_user, owner, tank
):
    meter = make_meter(owner, correction_factor=4)
    form = HEAD | {"meter": meter.pk, "spectral_factor": "4"}
    answer = as_user(owner).post(reverse("survey_new", args=[tank.pk]), form)
    assert answer.status_code == 422 and not Survey.objects.exists()
    assert list(answer.context["form"].errors) == ["spectral_factor"]
    assert answer.context["form"]["spectral_factor"].value() == "4"


@pytest.mark.parametrize(
    ("days", "caution"),
    [
        (None, "No check"),
        (10, ""),
        (365, ""),
        (366, "31 May 2025"),
        (900, "14 Dec 2023"),
    ],
)
def test_an_old_check_is_told_plainly(owner, days, caution):
    day = dt.date(2026, 6, 1)
    checked = None if days is None else day - dt.timedelta(days=days)
    sentence = Meter(owner=owner, label="x", checked_on=checked).check_caution(day)
    assert caution in sentence and bool(sentence) == bool(caution)


@pytest.mark.parametrize("factor", ["0.5", "3"])
def test_unsound_immersion_factors_are_refused(as_user, owner, factor):
    form = {"label": "M", "kind": "quantum", "correction_factor": "1", "immersion_factor": factor}
    assert as_user(owner).post(reverse("meter_new"), form).status_code == 422


def test_a_lux_meters_readings_are_kept_in_lux(owner, tank):
    meter = make_meter(owner, kind=Meter.Kind.LUX, correction_factor=1 / 54)
    survey = make_survey(tank, meter=meter, correction_factor=1 / 54, readings=[])
    reading = survey.readings.model(
        survey=survey, position=1, x_cm=1, y_cm=1, depth_cm=1, value_umol=21_600
    )
    reading.full_clean()
    assert reading.par_umol == pytest.approx(400.0)
    reading.value_umol = 280_000
    with pytest.raises(ValidationError, match="Lux is between 0 and 270000"):
        reading.full_clean()


@pytest.mark.parametrize(("kind", "sound"), [("lux", True), ("quantum", False), ("other", False)])
def test_only_a_lux_meter_has_a_tiny_factor(owner, kind, sound):
    meter = Meter(owner=owner, label="x", kind=kind, correction_factor=0.0185)
    if sound:
        meter.full_clean()
    else:
        with pytest.raises(ValidationError, match=r"0\.2"):
            meter.full_clean()


STATE = {
    "levels": "royal blue 80 %, white: 40; UV 12,5", "pumps": "off", "lid": "on", "hours_on": "4",
    "channel": "  ",
}  # fmt: skip


def test_light_state_is_kept_and_shown(as_user, owner, tank):
    client = as_user(owner)
    client.post(reverse("survey_new", args=[tank.pk]), HEAD | STATE)
    survey = Survey.objects.get()
    assert survey.levels == {"royal blue": 80, "white": 40, "UV": 12.5} and survey.channel == ""
    page = client.get(reverse("survey_detail", args=[survey.pk])).content.decode()
    for words in ("royal blue 80\u00a0%", "pumps off", "lid on", "4\u00a0h after lights-on"):
        assert words in page
    again = client.get(reverse("survey_edit", args=[survey.pk])).content.decode()
    # PostgreSQL keeps a JSON object's keys in an order of its own.
    (typed,) = re.findall(r'name="levels" value="([^"]*)"', again)
    assert set(typed.split(", ")) == {"royal blue 80", "white 40", "UV 12.5"}


@pytest.mark.parametrize("levels", ["blue", "80", "blue 120", "blue -3", "x" * 50 + " 3"])
def test_levels_that_say_nothing_are_told_and_kept(as_user, owner, tank, levels):
    response = as_user(owner).post(reverse("survey_new", args=[tank.pk]), HEAD | {"levels": levels})
    assert response.status_code == 422 and levels in response.content.decode()


# --- Channels that add up -------------------------------------------------------------------------


def channel_survey(tank, name, share, **more):
    rows = [(x, y, d, v * share) for x, y, d, v in grid_readings(tank)]
    return make_survey(tank, channel=name, readings=rows, **more)


def test_one_channel_alone_is_no_map_of_the_tanks_light(tank):
    channel_survey(tank, "blue", 0.7)
    assert tank_light(tank).maps == ()


def test_parts_sum_to_the_survey_with_all_on(tank):
    channel_survey(tank, "blue", 0.7)
    # Read at half of its level: its field is brought to full.
    channel_survey(tank, "white", 0.3 / 2, level_percent=50)
    whole = make_survey(tank)
    check = sum_check(channel_parts(tank), whole)
    assert check.ratio.ratio == pytest.approx(1.0, abs=0.03) and check.assumed
    assert check.verdict.endswith("the parts add up.")


def test_a_missing_part_shows(tank):
    channel_survey(tank, "blue", 0.7)
    check = sum_check(channel_parts(tank), make_survey(tank, levels={"Blue": 100}))
    assert check.ratio.ratio == pytest.approx(1 / 0.7, rel=0.03)
    assert not check.ratio.is_one and not check.assumed
    assert check.verdict.startswith("They do not quite add up")


def test_levels_scale_each_part(tank):
    channel_survey(tank, "blue", 0.7)
    channel_survey(tank, "white", 0.3)
    parts = tuple(channel_parts(tank))
    spot = [(30, 30, 25)]
    both, blue = (MixField(parts, levels).at(spot) for levels in ((1, 1), (0.5, 0)))
    alone = parts[0].field.at(spot)
    assert blue.par_umol[0] == pytest.approx(alone.par_umol[0] / 2)
    assert blue.low_umol[0] / blue.par_umol[0] == pytest.approx(
        (alone.low_umol[0] / alone.high_umol[0]) ** 0.5
    )
    assert both.par_umol[0] == pytest.approx(sum(p.field.at(spot).par_umol[0] for p in parts))


def test_the_newest_survey_of_a_channel_serves(tank):
    old = channel_survey(tank, "Blue", 0.2)
    Survey.objects.filter(pk=old.pk).update(taken_at=old.taken_at - dt.timedelta(days=9))
    new = channel_survey(tank, "blue", 0.7)
    assert [part.survey for part in channel_parts(tank)] == [new]


def test_mix_page_draws_checks_and_survives_nonsense(as_user, viewer, tank):
    channel_survey(tank, "blue", 0.7)
    channel_survey(tank, "white", 0.3)
    make_survey(tank)
    client, url = as_user(viewer), reverse("channel_mix", args=[tank.pk])
    page = client.get(url)
    check, text = page.context["check"], page.content.decode()
    assert check.ratio.is_one and check.verdict in text and "fill-rule" in text
    dark = client.get(url, {"level0": "0", "level1": "-5"})
    assert "drawing" not in dark.context and "fill-rule" not in dark.content.decode()
    odd = client.get(url, {"level0": "many", "depth": "deep", "survey": "²"})
    assert odd.status_code == 200


def test_mix_page_without_channels_says_how(as_user, owner, tank):
    page = as_user(owner).get(reverse("channel_mix", args=[tank.pk]))
    assert page.context["parts"] == [] and 'class="empty"' in page.content.decode()


# --- Cross-check ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [(0.97, 1.04, "No difference"), (1.01, 1.04, "They differ"), (0.9, 0.99, "They differ")],
)
def test_meters_differ_where_the_interval_leaves_one_out(low, high, words):
    ratio = Ratio((low * high) ** 0.5, low, high, pairs=5, scatter_percent=3, passed_over=0)
    assert meters_verdict(ratio).startswith(words)


def test_two_meters_are_compared_where_both_read(as_user, owner, viewer, tank):
    rows = [(10 + 5 * i, 20, 10, 100 + 20 * i) for i in range(6)]
    first = make_survey(tank, readings=rows, meter=make_meter(owner, label="Mine"))
    other = [(x + 1, y, d, v * 1.2) for x, y, d, v in rows[:5]] + [(50, 55, 40, 9)]
    second = make_survey(tank, readings=other, meter=make_meter(owner, label="Club’s"))
    url = reverse("survey_cross_check", args=[first.pk])
    page = as_user(viewer).get(url, {"with": second.pk}).content.decode()
    assert '<strong class="number">1.20</strong>' in page and "from 5 pairs" in page
    assert "They differ" in page


def test_too_few_common_places_are_told(as_user, owner, tank):
    first, second = (make_survey(tank, readings=[(x, 5, 5, 50)]) for x in (10, 50))
    page = as_user(owner).get(reverse("survey_cross_check", args=[first.pk]), {"with": second.pk})
    assert page.context["chosen"] == second and page.context["ratio"] is None


def test_a_survey_of_another_tank_is_no_partner(as_user, owner, tank):
    first, foreign = make_survey(tank), make_survey(make_tank())
    page = as_user(owner).get(reverse("survey_cross_check", args=[first.pk]), {"with": foreign.pk})
    assert page.context["chosen"] is None


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
@pytest.mark.parametrize("name", ["channel_mix", "survey_cross_check"])
def test_those_let_in_look(request, as_user, tank, who, name):
    pk = tank.pk if name == "channel_mix" else make_survey(tank).pk
    assert as_user(request.getfixturevalue(who)).get(reverse(name, args=[pk])).status_code == 200


@pytest.mark.parametrize("name", ["channel_mix", "survey_cross_check"])
def test_nothing_is_there_for_a_stranger(as_user, stranger, tank, name):
    pk = tank.pk if name == "channel_mix" else make_survey(tank).pk
    assert as_user(stranger).get(reverse(name, args=[pk])).status_code == 404
