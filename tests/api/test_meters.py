"""Meters and their checks by the API: the same rules as on the pages, the owner's alone."""

import pytest
from rest_framework.test import APIClient

from apps.surveys.models import Meter
from tests.factories import make_meter, make_meter_check, make_survey


@pytest.fixture
def api():
    def signed_in(user):
        client = APIClient()
        client.force_authenticate(user)
        return client

    return signed_in


@pytest.fixture
def meter(owner):
    return make_meter(owner, uncertainty_percent=5)


@pytest.mark.parametrize("body", [{"pairs": [[100]]}, {"pairs": "x"}, {"pairs": [[1, True]]}])
def test_the_api_refuses_what_the_form_does(api, owner, meter, body):
    given = {"checked_on": "2026-05-03", "reference": "Club sensor", "reference_percent": 3}
    url = f"/api/v1/meters/{meter.pk}/checks/"
    response = api(owner).post(url, given | body, format="json")
    assert response.status_code == 400 and list(response.json()["errors"]) == ["pairs"]


def test_checks_by_the_api_are_the_owners(api, owner, stranger, meter):
    make_meter_check(meter)
    url = f"/api/v1/meters/{meter.pk}/checks/"
    assert api(stranger).get(url).status_code == 404
    assert [c["reference"] for c in api(owner).get(url).json()["results"]] == ["Club sensor"]
    given = {"checked_on": "2026-05-03", "pairs": [[1, 2]]}
    foreign = make_meter(stranger)
    answer = api(owner).post(url, given | {"other": foreign.pk}, format="json")
    assert answer.status_code == 400 and list(answer.json()["errors"]) == ["other"]


@pytest.mark.parametrize(("percent", "origin"), [(5, "usual"), (7, "stated"), (None, "")])
def test_only_the_usual_uncertainty_is_called_usual(api, owner, percent, origin):
    given = {"label": "Club meter", "uncertainty_percent": percent, "uncertainty_from": "usual"}
    api(owner).post("/api/v1/meters/", given, format="json")
    assert Meter.objects.get().uncertainty_from == origin


def test_a_check_of_a_meter_that_follows_them_moves_its_surveys(api, owner, tank):
    meter = make_meter(owner, uncertainty_percent=5)
    survey, client = make_survey(tank, meter=meter), api(owner)
    meters, checks = f"/api/v1/meters/{meter.pk}/", f"/api/v1/meters/{meter.pk}/checks/"
    given = {
        "checked_on": "2026-05-03", "reference": "Lab sensor", "reference_percent": 3,
        "pairs": [[100, 110]],
    }  # fmt: skip
    check = client.post(checks, given, format="json").json()

    def factor():
        survey.refresh_from_db()
        return survey.correction_factor

    assert factor() == 1.0
    client.patch(meters, {"follows_checks": True}, format="json")
    high = factor()
    client.patch(f"{checks}{check['id']}/", {"pairs": [[100, 104]]}, format="json")
    low = factor()
    client.delete(f"{checks}{check['id']}/")
    assert high > low > 1.0 and factor() == 1.0


def test_a_check_moved_to_another_day_is_noted_on_its_meter(api, owner, meter):
    client, address = api(owner), f"/api/v1/meters/{meter.pk}/checks/"
    given = {
        "checked_on": "2024-05-03", "reference": "Lab sensor", "reference_percent": 3,
        "pairs": [[100, 110]],
    }  # fmt: skip
    answer = client.post(address, given, format="json")
    assert answer.status_code == 201, answer.json()
    made = answer.json()
    client.patch(f"{address}{made['id']}/", {"checked_on": "2026-05-03"}, format="json")
    meter.refresh_from_db()
    assert str(meter.checked_on) == "2026-05-03"
