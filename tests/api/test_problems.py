"""Refusals as problem details (RFC 9457), rows by their ETag, and where a new row is (RFC 9110)."""

from http import HTTPMethod

import pytest
from django.urls import reverse
from rest_framework.test import APIClient

from apps.api.problems import statuses_of
from tests.factories import make_coral

TANK = {"name": "Cube", "length_cm": 40, "width_cm": 40, "depth_cm": 35}


@pytest.fixture
def client(owner):
    client = APIClient()
    client.force_authenticate(owner)
    return client


def check_problem(answer, status):
    """Section 3.1 of RFC 9457: the members of a problem, its status the answer's own."""
    assert answer.status_code == status
    assert answer["Content-Type"].startswith("application/problem+json")
    problem = answer.json()
    assert problem["status"] == status and problem["type"] == "about:blank"
    assert problem["title"] and problem["detail"]
    return problem


def test_a_wrong_field_is_a_problem_that_names_it(client):
    problem = check_problem(client.post("/api/v1/tanks/", TANK | {"length_cm": -1}), 400)
    assert list(problem["errors"]) == ["length_cm"] and "length_cm" in problem["detail"]


def test_a_body_beyond_the_limit_is_a_problem(client, settings):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 20
    check_problem(client.post("/api/v1/tanks/", TANK), 413)


def test_a_body_that_is_no_json_is_a_problem(client):
    answer = client.generic("POST", "/api/v1/tanks/", b"{", "application/json")
    assert "errors" not in check_problem(answer, 400)


def test_a_list_where_one_row_is_meant_is_a_problem(client):
    check_problem(client.post("/api/v1/tanks/", [TANK], format="json"), 400)


def test_who_is_not_known_or_not_let_in_is_answered_with_a_problem(client, tank, as_user, viewer):
    check_problem(APIClient().get("/api/v1/tanks/"), 401)
    check_problem(client.get("/api/v1/tanks/999999/"), 404)
    check_problem(as_user(viewer).delete(f"/api/v1/tanks/{tank.pk}/"), 403)
    check_problem(client.put("/api/v1/tanks/", {}), 405)
    check_problem(client.generic("POST", "/api/v1/tanks/", b"<a/>", "application/xml"), 415)


def test_many_wrong_fields_are_all_in_the_errors_and_some_in_the_sentence(client):
    wrong = {f"field_{n}": 1 for n in range(9)}
    problem = check_problem(client.post("/api/v1/tanks/", TANK | wrong), 400)
    assert len(problem["errors"]) == 9 and "4 more" in problem["detail"]


def test_a_new_row_says_where_it_is(client, tank):
    made = client.post("/api/v1/tanks/", TANK)
    assert client.get(made["Location"]).json()["id"] == made.json()["id"]
    coral = {"name": "Red plate", "group": "lps", "added_on": "2026-05-01"}
    made = client.post(f"/api/v1/tanks/{tank.pk}/corals/", coral)
    assert client.get(made["Location"]).json()["name"] == "Red plate"


def test_a_row_sent_twice_is_found_at_the_same_place(client):
    sent = [
        client.post("/api/v1/tanks/", TANK, headers={"Idempotency-Key": "one"}) for _ in range(2)
    ]
    assert sent[0]["Location"] == sent[1]["Location"]


def test_a_row_read_again_unchanged_is_not_sent_again(client, tank):
    address = f"/api/v1/tanks/{tank.pk}/"
    tag = client.get(address)["ETag"]
    again = client.get(address, headers={"If-None-Match": tag})
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", tag)
    client.patch(address, {"name": "Lagoon"})
    assert client.get(address, headers={"If-None-Match": tag}).status_code == 200


@pytest.mark.parametrize("method", ["put", "patch", "delete"])
def test_a_row_changed_since_it_was_read_is_not_written_over(client, tank, method):
    coral = make_coral(tank)
    address = f"/api/v1/tanks/{tank.pk}/corals/{coral.pk}/"
    read = client.get(address)
    client.patch(address, {"name": "Changed by another"})
    body = read.json() | {"name": "Mine"}
    answer = getattr(client, method)(address, body, headers={"If-Match": read["ETag"]})
    check_problem(answer, 412)
    assert client.get(address).json()["name"] == "Changed by another"


def test_a_row_that_came_packed_is_known_by_its_tag_all_the_same(client, tank):
    address = f"/api/v1/tanks/{tank.pk}/"
    packed = {"Accept-Encoding": "gzip"}
    read = client.get(address, headers=packed)
    assert read["Content-Encoding"] == "gzip"
    known = client.get(address, headers=packed | {"If-None-Match": read["ETag"]})
    assert known.status_code == 304
    body = {"name": "Lagoon"}
    assert client.patch(address, body, headers={"If-Match": read["ETag"]}).status_code == 200
    assert client.patch(address, body, headers={"If-Match": read["ETag"]}).status_code == 412


@pytest.mark.parametrize("condition", ["tag", '"other", {tag}', "*"])
def test_a_row_as_it_was_read_is_written(client, tank, condition):
    address = f"/api/v1/tanks/{tank.pk}/"
    tag = client.get(address)["ETag"]
    condition = tag if condition == "tag" else condition.format(tag=tag)
    answer = client.patch(address, {"name": "Lagoon"}, headers={"If-Match": condition})
    assert answer.status_code == 200 and answer.json()["name"] == "Lagoon"


@pytest.mark.parametrize("address", ["/api/v1/", "/api/v1/corral/", "/api/v2/tanks/"])
def test_an_address_that_is_none_is_a_problem_too(client, address):
    assert reverse("api_docs") in check_problem(client.get(address), 404)["detail"]


@pytest.mark.parametrize(
    ("path", "method", "statuses"),
    [("/api/v1/clubs/join/", "POST", {403}), ("/api/v1/taken-plans/", "POST", {403}),
     ("/api/v1/tanks/", "POST", {403}), ("/api/v1/tanks/", "GET", set()),
     ("/api/v1/tanks/{id}/", "GET", {403})],
)  # fmt: skip
def test_each_call_that_writes_documents_that_a_token_may_not(path, method, statuses):
    assert {403} & set(statuses_of(path, HTTPMethod(method), [])) == statuses
