"""Who reaches what over the API: visitors 401, strangers 404, viewers read, nobody else's rows."""

import datetime as dt

import pytest
from rest_framework.test import APIClient

from tests.factories import (
    make_coral,
    make_day_curve,
    make_light_change,
    make_meter,
    make_note,
    make_rock,
    make_survey,
    make_tank,
    make_user,
    make_water_event,
)

NEW = {
    "rocks": {
        "x_cm": 5, "y_cm": 5, "depth_cm": 30, "length_cm": 10, "width_cm": 10, "height_cm": 10,
    },
    "light-changes": {
        "happened_at": "2026-05-01T12:00:00Z", "summary": "Raised the lamp", "hung": [],
        "taken_down": [], "starts": [],
    },
    "day-curves": {
        "name": "Summer", "points": [[480, 0], [600, 100], [1200, 0]], "share_percent": 100,
    },
    "surveys": {"taken_at": "2026-05-01T12:00:00Z"},
    "water-events": {"happened_at": "2026-05-01T12:00:00Z", "kind": "pest", "could_hurt": True},
    "corals": {"name": "Red plate", "group": "lps", "added_on": "2026-05-01"},
}  # fmt: skip
OF_CORAL = {
    "spots": {"x_cm": 5, "y_cm": 5, "depth_cm": 30, "since": "2026-05-02"},
    "notes": {"noted_on": "2026-05-02", "seen": "paling"},
    "sizes": {"measured_on": "2026-05-02", "diameter_cm": 4.5},
}


@pytest.fixture
def api():
    def signed_in(user=None):
        client = APIClient()
        if user:
            client.force_authenticate(user)
        return client

    return signed_in


@pytest.fixture
def coral(tank):
    return make_coral(tank, since=dt.date(2026, 1, 5))


def of_tank(tank, kind, pk=None):
    return f"/api/v1/tanks/{tank.pk}/{kind}/" + (f"{pk}/" if pk else "")


def of_coral(coral, kind, pk=None):
    return of_tank(coral.tank, f"corals/{coral.pk}/{kind}", pk)


@pytest.mark.parametrize("path", ["tanks/", "meters/", "tanks/1/surveys/"])
def test_visitor_is_refused(api, db, path):
    assert api().get(f"/api/v1/{path}").status_code == 401


@pytest.mark.parametrize("kind", NEW)
@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
def test_who_may_read(request, api, tank, kind, who, status):
    client = api(request.getfixturevalue(who))
    assert client.get(of_tank(tank, kind)).status_code == status


@pytest.mark.parametrize("kind", NEW)
@pytest.mark.parametrize(
    ("who", "status"), [("owner", 201), ("co_keeper", 201), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_add(request, api, tank, kind, who, status):
    client = api(request.getfixturevalue(who))
    response = client.post(of_tank(tank, kind), NEW[kind], format="json")
    assert response.status_code == status, response.data


@pytest.mark.parametrize("kind", OF_CORAL)
@pytest.mark.parametrize(
    ("who", "status"), [("owner", 201), ("co_keeper", 201), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_add_to_a_coral(request, api, coral, kind, who, status):
    client = api(request.getfixturevalue(who))
    response = client.post(of_coral(coral, kind), OF_CORAL[kind], format="json")
    assert response.status_code == status, response.data


def rows_of(tank):
    coral = make_coral(tank)
    return {
        "rocks": make_rock(tank),
        "light-changes": make_light_change(tank),
        "day-curves": make_day_curve(tank),
        "surveys": make_survey(tank),
        "water-events": make_water_event(tank),
        "corals": coral,
        f"corals/{coral.pk}/notes": make_note(coral),
        f"corals/{coral.pk}/spots": coral.spots.get(),
    }


@pytest.mark.parametrize("method", ["patch", "put", "delete"])
@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_who_may_not_change(request, api, tank, method, who, status):
    client = api(request.getfixturevalue(who))
    for kind, row in rows_of(tank).items():
        response = getattr(client, method)(of_tank(tank, kind, row.pk), {}, format="json")
        assert response.status_code == status, kind


def test_row_of_another_tank_is_not_found_under_ones_own(api, owner, tank):
    for kind, row in rows_of(make_tank()).items():
        assert api(owner).get(of_tank(tank, kind, row.pk)).status_code == 404, kind


def test_delete_takes_away_and_erases_nothing(api, owner, tank):
    client = api(owner)
    rows = rows_of(tank)
    # The coral goes last: its notes and spots are reached through it.
    kinds = ["rocks", "light-changes", "day-curves", "surveys", "water-events"]
    for kind in [*kinds, *(k for k in rows if "/" in k), "corals"]:
        url = of_tank(tank, kind, rows[kind].pk)
        assert client.delete(url).status_code == 204
        assert client.get(url).status_code == 404
        rows[kind].refresh_from_db()
        assert rows[kind].removed_at is not None


def test_lists_hold_only_what_the_user_may_see(api, viewer, tank):
    make_tank(make_user())
    results = api(viewer).get("/api/v1/tanks/").data["results"]
    assert [(t["id"], t["role"], t["owner"]) for t in results] == [(tank.pk, "viewer", "Ottilie")]


def test_answers_never_hold_an_email(api, viewer, tank):
    rows_of(tank)
    paths = ["/api/v1/tanks/", *(of_tank(tank, kind) for kind in NEW)]
    assert not any(b"example.org" in api(viewer).get(path).content for path in paths)


def test_new_tank_is_ones_own(api, stranger):
    body = {"name": "Cube", "length_cm": 40, "width_cm": 40, "depth_cm": 35}
    response = api(stranger).post("/api/v1/tanks/", body, format="json")
    assert (response.status_code, response.data["role"]) == (201, "owner")


def test_owner_can_not_be_given_away(api, owner, stranger, tank):
    api(owner).patch(f"/api/v1/tanks/{tank.pk}/", {"owner": stranger.pk}, format="json")
    tank.refresh_from_db()
    assert tank.owner == owner


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 204), ("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
def test_only_the_owner_takes_a_tank_away(request, api, tank, who, status):
    client = api(request.getfixturevalue(who))
    assert client.delete(f"/api/v1/tanks/{tank.pk}/").status_code == status


@pytest.mark.parametrize(
    ("who", "status"), [("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_change_a_tank(request, api, tank, who, status):
    client = api(request.getfixturevalue(who))
    response = client.patch(f"/api/v1/tanks/{tank.pk}/", {"name": "New"}, format="json")
    assert response.status_code == status


def test_meters_are_ones_own(api, owner, stranger):
    meter = make_meter(owner)
    assert api(stranger).get(f"/api/v1/meters/{meter.pk}/").status_code == 404
    assert api(owner).get(f"/api/v1/meters/{meter.pk}/").status_code == 200


@pytest.mark.parametrize("pk", ["abc", "0", "99999999999999999999999"])
def test_odd_addresses_are_not_found(api, owner, tank, pk):
    assert api(owner).get(f"/api/v1/tanks/{pk}/").status_code == 404
    assert api(owner).patch(f"{of_tank(tank, 'surveys')}{pk}/", {}).status_code == 404
