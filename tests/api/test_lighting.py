"""Fixtures and day curves over the API: the rules of the pages, in the same sentences."""

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from apps.lighting.day.running import start_day_curve
from apps.lighting.models import DayCurve, Fixture, HungFixture
from apps.photics.photometry.ies import read_ies
from tests.factories import hang, make_day_curve, make_fixture, make_light_change
from tests.photics.photometric_files import LAMBERTIAN, ies_text, lobe, lopsided

FIXTURE = {"name": "Bar", "kind": "bar", "lit_length_cm": 80, "lit_width_cm": 4, "beam_deg": 90}


def api(user):
    client = APIClient()
    client.force_authenticate(user)
    return client


def days(tank):
    return f"/api/v1/tanks/{tank.pk}/day-curves/"


def test_fixture_is_written_to_ones_own_library(owner):
    channels = [{"name": "Blue", "peak_nm": 450, "share_percent": 100}]
    body = FIXTURE | {"optic": "narrow", "channels": channels}
    response = api(owner).post("/api/v1/fixtures/", body, format="json")
    assert response.status_code == 201 and response.data["beam_deg"] == 55
    assert Fixture.objects.get().owner == owner


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"channels": [{"name": "Blue", "peak_nm": 450, "share_percent": 40}]}, "channels"),
        ({"channels": "blue"}, "channels"),
        ({"channels": [{"name": "Blue", "peak_nm": "x", "share_percent": 100}]}, "channels"),
        ({"channels": [{"name": "B", "peak_nm": 450, "share_percent": "100"}]}, "channels"),
        ({"channels": [450]}, "channels"),
        ({"channels": [{"name": 5, "peak_nm": 450, "share_percent": 100}]}, "channels"),
        ({"channels": [{"name": "x" * 41, "peak_nm": 450, "share_percent": 100}]}, "channels"),
        (
            {"channels": [{"name": "B", "peak_nm": 450, "share_percent": 100, "note": "x"}]},
            "channels",
        ),
        ({"optic": "file"}, "optic"),
        ({"efficacy_umol_j": 50}, "efficacy_umol_j"),
    ],
)
def test_wrong_fixture_is_refused_at_its_field(owner, wrong, field):
    response = api(owner).post("/api/v1/fixtures/", FIXTURE | wrong, format="json")
    assert response.status_code == 400 and field in response.data["errors"]


@pytest.mark.parametrize("who", ["co_keeper", "viewer", "stranger"])
def test_library_is_its_owners_alone(request, owner, who):
    fixture = make_fixture(owner)
    client = api(request.getfixturevalue(who))
    assert client.get(f"/api/v1/fixtures/{fixture.pk}/").status_code == 404
    assert client.get("/api/v1/fixtures/").data["results"] == []


def test_angle_must_be_told_where_the_optic_is_one(owner):
    body = {name: value for name, value in FIXTURE.items() if name != "beam_deg"}
    refused = api(owner).post("/api/v1/fixtures/", body, format="json")
    assert refused.status_code == 400 and "named optic" in refused.data["errors"]["beam_deg"][0]
    named = api(owner).post("/api/v1/fixtures/", body | {"optic": "medium"}, format="json")
    assert named.status_code == 201 and named.data["beam_deg"] == 90


def test_fixture_told_wrongly_is_corrected_where_it_hangs(owner, tank):
    fixture = make_fixture(owner)
    hang(make_light_change(tank), fixture)
    address = f"/api/v1/fixtures/{fixture.pk}/"
    api(owner).patch(address, {"name": "New", "zone": "refugium"}, format="json")
    assert HungFixture.objects.get().name == "Panel"
    answer = api(owner).patch(address, {"correct_hung": True}, format="json")
    assert "correct_hung" not in answer.data
    assert (HungFixture.objects.get().name, HungFixture.objects.get().zone) == ("New", "refugium")


def test_channel_names_lose_the_spaces_at_their_ends(owner):
    channels = [{"name": " Blue ", "peak_nm": 450, "share_percent": 100}]
    body = FIXTURE | {"optic": "wide", "channels": channels}
    answer = api(owner).post("/api/v1/fixtures/", body, format="json")
    assert answer.data["channels"][0]["name"] == "Blue"


def photometry(fixture):
    return f"/api/v1/fixtures/{fixture.pk}/photometry/"


def test_photometric_file_becomes_the_optic(owner):
    fixture = make_fixture(owner)
    assert api(owner).get(photometry(fixture)).status_code == 404
    answer = api(owner).put(photometry(fixture), {"text": LAMBERTIAN.read_text()}, format="json")
    assert answer.status_code == 200, answer.data
    fixture.refresh_from_db()
    assert fixture.optic == "file" and fixture.beam_deg == answer.data["beam_deg"]
    kept = api(owner).get(photometry(fixture)).data
    assert kept == answer.data and read_ies(kept["text"]).flux_lm == pytest.approx(1000, rel=1e-3)


def test_rays_turn_with_the_longer_side_over_the_api(owner):
    fixture = make_fixture(owner, lit_length_cm=40, lit_width_cm=10)
    planes = ies_text(lopsided, horizontal=tuple(range(0, 361, 15)))
    api(owner).put(photometry(fixture), {"text": planes}, format="json")
    fixture.refresh_from_db()
    before, sides = fixture.measured.rays_id, {"lit_length_cm": 10, "lit_width_cm": 40}
    answer = api(owner).patch(f"/api/v1/fixtures/{fixture.pk}/", sides, format="json")
    assert answer.status_code == 200
    assert Fixture.objects.get().measured.rays_id != before


@pytest.mark.parametrize(
    ("sent", "field"),
    [({}, "text"), ({"text": ""}, "text"), ({"text": "IESNA"}, "text"), ({"text": [5]}, "text"),
     ({"text": ies_text(lobe, tilt="TILT=lamp.tlt")}, "text"),
     ({"text": ies_text(lobe), "tilt": ["x"]}, "tilt")],
)  # fmt: skip
def test_file_that_is_none_is_told_at_its_field(owner, sent, field):
    fixture = make_fixture(owner)
    answer = api(owner).put(photometry(fixture), sent, format="json")
    assert answer.status_code == 400 and list(answer.data["errors"]) == [field]
    fixture.refresh_from_db()
    assert fixture.optic == "angle" and fixture.measured is None


@pytest.mark.parametrize("who", ["co_keeper", "viewer", "stranger"])
def test_photometric_file_is_its_owners_alone(request, owner, who):
    fixture = make_fixture(owner)
    client = api(request.getfixturevalue(who))
    body = {"text": LAMBERTIAN.read_text()}
    assert client.put(photometry(fixture), body, format="json").status_code == 404
    assert client.get(photometry(fixture)).status_code == 404


@pytest.mark.parametrize(
    "points",
    [
        [],
        [[480, 100]],
        "x",
        [[0, 50], [1440, 50]],
        [[480, 120], [600, 0]],
        [[480], [600]],
        [1, 2],
        [["480", 1], [600, 1]],
    ],
)
def test_points_that_make_no_day_are_refused(owner, tank, points):
    response = api(owner).post(days(tank), {"name": "Odd", "points": points}, format="json")
    assert response.status_code == 400 and "points" in response.data["errors"]
    assert not DayCurve.objects.exists()


def test_share_of_a_group_is_its_channels_as_in_the_form(owner, tank):
    body = {"name": "Blue", "group": " blue ", "points": [[480, 100], [1200, 100]]}
    refused = api(owner).post(days(tank), body, format="json")
    assert refused.status_code == 400 and "channel" in refused.data["errors"]["share_percent"][0]
    channels = [{"name": "Royal blue", "peak_nm": 450, "share_percent": 100}]
    hang(make_light_change(tank), make_fixture(owner, channels=channels))
    made = api(owner).post(days(tank), body, format="json")
    assert (made.status_code, made.data["group"], made.data["share_percent"]) == (201, "blue", None)
    address = f"{days(tank)}{made.data['id']}/"
    assert api(owner).patch(address, {"group": ""}, format="json").data["share_percent"] == 100
    wrong = api(owner).patch(address, {"group": "red", "share_percent": None}, format="json")
    assert wrong.status_code == 400 and "share_percent" in wrong.data["errors"]


def test_day_curve_is_shaped_by_writing_its_points(owner, tank):
    curve = make_day_curve(tank)
    address = f"{days(tank)}{curve.pk}/"
    points = [[1320, 0], [60, 80], [240, 0]]
    answer = api(owner).patch(address, {"points": points, "zone": "refugium"}, format="json")
    assert (answer.data["points"], answer.data["zone"]) == (points, "refugium")
    moon = api(owner).patch(address, {"is_moonlight": True}, format="json")
    assert moon.status_code == 400 and "Moonlight stays" in moon.data["errors"]["points"][0]


def test_light_change_carries_the_day_it_started(owner, tank):
    curve = make_day_curve(tank)
    start_day_curve(curve=curve, happened_at=timezone.now(), created_by=owner)
    (change,) = api(owner).get(f"/api/v1/tanks/{tank.pk}/light-changes/").data["results"]
    assert change["days"][0]["points"] == curve.points and change["day_hours"] is None


def test_light_change_tells_the_level_of_each_channel(owner, tank):
    blue = {"name": "Blue", "peak_nm": 450, "share_percent": 60}
    white = {"name": "White", "white_kelvin": 10000, "share_percent": 40}
    fixture = make_fixture(owner, channels=[blue, white])
    hang(make_light_change(tank), fixture, level_percent=50, channel_levels={"Blue": 80})
    (change,) = api(owner).get(f"/api/v1/tanks/{tank.pk}/light-changes/").data["results"]
    (hung,) = change["hung"]
    assert (hung["channel_levels"], hung["channels"]) == ({"Blue": 80}, [blue, white])
    assert hung["light_percent"] == pytest.approx(44)
