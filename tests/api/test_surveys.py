"""Surveys with readings over the API: written whole, refused whole, never over another's save."""

import uuid

import pytest
from django.urls import reverse
from rest_framework.test import APIClient

from apps.photics.limits import SURVEY_READINGS_MAX
from tests.factories import make_meter, make_survey

ROWS = [
    {"x_cm": 10, "y_cm": 10, "depth_cm": 10, "value_umol": 200},
    {"x_cm": 30, "y_cm": 30, "depth_cm": 25, "value_umol": 120.5, "spread_umol": 4},
]


@pytest.fixture
def client(owner):
    client = APIClient()
    client.force_authenticate(owner)
    return client


@pytest.fixture
def url(tank):
    return f"/api/v1/tanks/{tank.pk}/surveys/"


def post(client, url, readings=ROWS, **head):
    body = {"taken_at": "2026-05-01T14:00:00Z", "readings": readings} | head
    return client.post(url, body, format="json")


def test_survey_comes_with_its_readings(client, url, tank):
    response = post(client, url)
    assert response.status_code == 201 and response.data["version"] == 1
    assert [r["value_umol"] for r in response.data["readings"]] == [200, 120.5]
    assert tank.surveys.get().readings.count() == 2


def test_list_tells_heads_only(client, url):
    post(client, url)
    (row,) = client.get(url).data["results"]
    assert row["reading_count"] == 2 and "readings" not in row


def test_list_leaves_out_what_was_taken_away(client, url, tank):
    make_survey(tank).remove()
    assert client.get(url).data["results"] == []


def test_bad_reading_is_told_at_its_row_and_nothing_is_saved(client, url, tank):
    bad = [ROWS[0], ROWS[1] | {"depth_cm": 51, "value_umol": -1}]
    response = post(client, url, bad)
    first, second = (response.data["errors"]["readings"].get(row, {}) for row in (0, 1))
    assert response.status_code == 400 and first == {}
    assert "Outside the water" in second["depth_cm"][0] and "PAR is" in second["value_umol"][0]
    assert not tank.surveys.exists()


@pytest.mark.parametrize("value", ["nan", "12,5", None, True])
def test_reading_is_a_number(client, url, tank, value):
    response = post(client, url, [ROWS[0] | {"value_umol": value}])
    assert "value_umol" in response.data["errors"]["readings"][0] and not tank.surveys.exists()


def test_too_many_readings_are_refused(client, url, tank):
    response = post(client, url, [ROWS[0]] * (SURVEY_READINGS_MAX + 1))
    assert response.status_code == 400 and not tank.surveys.exists()


def test_written_readings_replace_all(client, url):
    made = post(client, url).data
    one = f"{url}{made['id']}/"
    response = client.patch(one, {"readings": ROWS[:1], "version": 1}, format="json")
    assert (response.status_code, response.data["version"]) == (200, 2)
    assert len(client.get(one).data["readings"]) == 1


def test_head_changes_without_touching_readings(client, url):
    one = f"{url}{post(client, url).data['id']}/"
    response = client.patch(one, {"notes": "pumps off"}, format="json")
    assert response.data["notes"] == "pumps off" and len(response.data["readings"]) == 2


def test_readings_say_which_version_they_replace(client, url):
    one = f"{url}{post(client, url).data['id']}/"
    assert "version" in client.patch(one, {"readings": []}, format="json").data["errors"]


def test_stale_readings_are_refused_with_their_head(client, url, tank):
    one = f"{url}{post(client, url).data['id']}/"
    stale = {"readings": ROWS[:1], "version": 0, "notes": "mine"}
    response = client.patch(one, stale, format="json")
    assert response.status_code == 409
    survey = tank.surveys.get()
    assert (survey.notes, survey.readings.count()) == ("", 2)


def test_sending_the_same_readings_again_changes_nothing(client, url):
    rows = [row | {"client_id": str(uuid.uuid4())} for row in ROWS]
    one = f"{url}{post(client, url, rows).data['id']}/"
    response = client.patch(one, {"readings": rows, "version": 0}, format="json")
    assert (response.status_code, response.data["version"]) == (200, 1)


def test_replaced_readings_can_be_brought_back(client, url, tank):
    one = f"{url}{post(client, url).data['id']}/"
    client.patch(one, {"readings": [], "version": 1}, format="json")
    assert len(tank.surveys.get().last_revision().rows) == 2


def test_correction_comes_from_the_meter(client, url, owner):
    meter = make_meter(owner, correction_factor=1.25)
    made = post(client, url, meter=meter.pk).data
    assert made["correction_factor"] == 1.25 and made["readings"][0]["par_umol"] == 250


def test_a_given_correction_wins(client, url, owner):
    meter = make_meter(owner, correction_factor=1.25)
    assert post(client, url, meter=meter.pk, correction_factor=1.1).data["correction_factor"] == 1.1


def test_meter_of_another_is_unknown(client, url, stranger):
    response = post(client, url, meter=make_meter(stranger).pk)
    assert response.status_code == 400 and "meter" in response.data["errors"]


def test_friends_meter_stays_on_its_survey(tank, url, owner, co_keeper):
    survey = make_survey(tank, meter=make_meter(owner))
    friend = APIClient()
    friend.force_authenticate(co_keeper)
    body = {"taken_at": "2026-05-01T14:00:00Z", "meter": survey.meter_id}
    assert friend.put(f"{url}{survey.pk}/", body, format="json").status_code == 200


# --- The light ------------------------------------------------------------------------------
LIGHT = {
    "spectral_factor": 1.2, "levels": {"blue": 80, "white": 40.5}, "pumps": "on", "lid": "off",
    "hours_on": 4.5, "channel": "royal blue",
}  # fmt: skip


def test_what_the_light_was_is_written_and_read(client, url, tank):
    made = post(client, url, **LIGHT).data
    assert {name: made[name] for name in LIGHT} == LIGHT
    [head] = client.get(url).data["results"]
    assert {name: head[name] for name in LIGHT} == LIGHT
    one = client.get(f"{url}{made['id']}/").data
    assert client.put(f"{url}{made['id']}/", one, format="json").data["levels"] == LIGHT["levels"]
    cleared = {"levels": {}, "pumps": "", "lid": "", "hours_on": None, "channel": ""}
    answer = client.patch(f"{url}{made['id']}/", cleared, format="json")
    assert {name: answer.data[name] for name in cleared} == cleared


def test_a_channel_is_kept_as_the_page_keeps_it(client, url):
    assert post(client, url, channel="  royal   blue ").data["channel"] == "royal blue"
    assert post(client, url, levels={" blue :": 80}).data["levels"] == {"blue": 80}


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("spectral_factor", 0.19), ("spectral_factor", 5.1), ("spectral_factor", True),
        ("spectral_factor", None), ("hours_on", -1), ("hours_on", 24.1), ("hours_on", "x"),
        ("pumps", "maybe"), ("lid", True), ("channel", "x" * 41), ("channel", "a\u202eb"),
        ("levels", []), ("levels", None), ("levels", "blue 80"), ("levels", {"blue": -1}),
        ("levels", {"blue": 1e9}), ("levels", {"blue": True}), ("levels", {"blue": "80"}),
        ("levels", {"blue": None}), ("levels", {"": 80}), ("levels", {" ": 80}),
        ("levels", {"x" * 41: 80}), ("levels", {f"c{n}": 80 for n in range(21)}),
        ("levels", {"blue": [80]}),
    ],
)  # fmt: skip
def test_light_that_can_not_be_is_refused_at_its_field(client, url, tank, name, value):
    answer = post(client, url, **{name: value})
    assert answer.status_code == 400 and list(answer.data["errors"]) == [name]
    assert not tank.surveys.exists()


def test_a_level_is_refused_as_on_the_page(client, as_user, owner, url, tank):
    said = post(client, url, levels={"blue": 900}).data["errors"]["levels"]
    typed = {"taken_at": "2026-05-01T14:00", "level_percent": "100", "levels": "blue 900"}
    page = as_user(owner).post(reverse("survey_new", args=[tank.pk]), typed)
    [sentence] = page.context["form"].errors["levels"]
    assert sentence.replace("blue 900", "blue") == said[0]


def test_the_lights_colour_counts_with_the_meter(client, url, owner):
    meter = make_meter(owner, correction_factor=1.25)
    made = post(client, url, meter=meter.pk, spectral_factor=1.2).data
    assert made["correction_factor"] == pytest.approx(1.5)
    meter.correction_factor = 2
    meter.save()
    # The meter's part stays as the survey took it.
    one = f"{url}{made['id']}/"
    changed = client.patch(one, {"spectral_factor": 0.8}, format="json").data
    assert changed["correction_factor"] == pytest.approx(1.0)
    stated = client.patch(one, {"spectral_factor": 1, "correction_factor": 3}, format="json").data
    assert stated["correction_factor"] == 3


@pytest.mark.parametrize("is_new", [True, False])
def test_a_factor_out_of_bounds_is_refused(client, url, owner, is_new):
    meter = make_meter(owner, correction_factor=4)
    if is_new:
        answer = post(client, url, meter=meter.pk, spectral_factor=4)
    else:
        made = post(client, url, meter=meter.pk).data
        answer = client.patch(f"{url}{made['id']}/", {"spectral_factor": 4}, format="json")
    assert answer.status_code == 400 and list(answer.data["errors"]) == ["correction_factor"]


@pytest.mark.parametrize(
    ("who", "status"), [("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_says_what_the_light_was(request, tank, url, who, status):
    survey, friend = make_survey(tank), APIClient()
    friend.force_authenticate(request.getfixturevalue(who))
    answer = friend.patch(f"{url}{survey.pk}/", {"pumps": "on"}, format="json")
    survey.refresh_from_db()
    assert answer.status_code == status and survey.pumps == ("on" if status == 200 else "")
