"""Marks on a photo by the API: its colour and size are measured as on its page; and changes."""

import pytest
from django.urls import reverse
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.models import TokenCard
from apps.api.photos.marking import CARD
from apps.corals.models import CoralSize, PhotoColour
from tests.api.programs import program
from tests.corals.shots import TYPED, TYPED_SIZE, make_colour, make_photo
from tests.factories import make_coral

SIZE = {
    "whole": {"shape": "ellipse", "points": [[0.34, 0.36], [0.82, 0.84]]},
    "scale": [[0.08, 0.9], [0.28, 0.9]], "scale_cm": 4,
}  # fmt: skip
LIGHT = {"reference_kind": "white", "light": "white"}


@pytest.fixture
def client(owner):
    return program(owner)


@pytest.fixture
def coral(tank):
    return make_coral(tank)


@pytest.fixture
def photo(coral):
    return make_photo(coral)


def at(photo, *rest):
    coral = photo.note.coral
    place = ["/api/v1/tanks", coral.tank_id, "corals", coral.pk, "photos", photo.key, *rest, ""]
    return "/".join(map(str, place))


def mark(client, photo, **said):
    return client.post(at(photo, "marks"), CARD | said, format="json")


def errors(answer):
    assert answer.status_code == 400, answer.json()
    return answer.json()["errors"]


@pytest.mark.parametrize(
    ("who", "reads", "writes"),
    [("owner", 200, 200), ("co_keeper", 200, 200), ("viewer", 200, 403), ("stranger", 404, 404)],
)
def test_who_reads_marks_and_who_marks(request, photo, who, reads, writes):
    client = program(request.getfixturevalue(who))
    assert client.get(at(photo, "marks")).status_code == reads
    assert mark(client, photo).status_code == writes
    assert PhotoColour.objects.count() == (writes == 200)
    if writes != 200:
        make_colour(photo.note.coral)
    answered = client.post(at(photo, "colour-answer"), {"answer": "seen"}, format="json")
    assert answered.status_code == writes
    assert client.delete(at(photo, "marks")).status_code == {200: 204}.get(writes, writes)


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 200)])
def test_which_token_marks(owner, photo, scope, status):
    instance, token = AuthToken.objects.create(owner)
    TokenCard.objects.create(token=instance, name=scope, scope=scope)
    client = APIClient(headers={"Authorization": f"Bearer {token}"})
    assert client.get(at(photo, "marks")).status_code == 200
    assert mark(client, photo).status_code == status


def test_a_colour_is_what_its_page_measures(client, as_user, owner, coral, photo):
    made = mark(client, photo).json()
    other = make_photo(coral)
    as_user(owner).post(reverse("photo_detail", args=[other.key]), TYPED)
    ours, pages = (PhotoColour.objects.get(photo=one) for one in (photo, other))
    assert ours.marks == pages.marks and list(ours.lab) == list(pages.lab)
    assert made["colour"]["lightness"] == ours.lightness and not made["is_proposal"]
    assert made["reference"] == CARD["reference"] and made["regions"] == CARD["regions"]
    assert client.get(at(photo, "marks")).json() == made


def test_a_size_is_what_its_page_measures(client, as_user, owner, coral, photo):
    made = client.post(at(photo, "marks"), LIGHT | SIZE, format="json").json()
    other = make_photo(coral)
    typed = {name: TYPED[name] for name in LIGHT} | TYPED_SIZE
    as_user(owner).post(reverse("photo_detail", args=[other.key]), typed)
    ours, pages = (CoralSize.objects.get(photo=one) for one in (photo, other))
    assert ours.marks == pages.marks and ours.diameter_cm == pages.diameter_cm
    assert made["size"]["diameter_cm"] == ours.diameter_cm and made["colour"] is None
    assert made["whole"] == SIZE["whole"] and made["scale_cm"] == 4


def test_who_may_mark_is_proposed_the_marks_of_the_photo_before(client, viewer, coral, photo):
    make_colour(coral, days_ago=5)
    seen = client.get(at(photo, "marks")).json()
    assert seen["is_proposal"] and len(seen["regions"]) == 1 and seen["colour"] is None
    read = program(viewer).get(at(photo, "marks")).json()
    assert not read["is_proposal"] and read["regions"] == [] and read["light"] is None


def test_marking_anew_takes_the_place_of_what_was_marked(client, photo):
    mark(client, photo)
    client.post(at(photo, "colour-answer"), {"answer": "not_so"}, format="json")
    made = mark(client, photo, light="mixed").json()
    assert made["light"] == "mixed" and made["colour"]["answer"] == ""
    assert PhotoColour.objects.count() == 1


def test_a_colour_is_answered_and_deleted(client, photo):
    answer = client.post(at(photo, "colour-answer"), {"answer": "seen"}, format="json")
    assert answer.status_code == 404
    mark(client, photo)
    answer = client.post(at(photo, "colour-answer"), {"answer": "seen"}, format="json")
    assert answer.json()["answer"] == "seen" == PhotoColour.objects.get().answer
    assert client.delete(at(photo, "marks")).status_code == 204
    assert not PhotoColour.objects.present().exists()
    assert client.delete(at(photo, "marks")).status_code == 404


OUTLINE = {"shape": "outline", "points": [[0.1, 0.1], [0.2, 0.2]]}


@pytest.mark.parametrize(
    ("said", "field"),
    [({"light": "red"}, "light"), ({"reference": OUTLINE}, "reference"),
     ({"reference": {"shape": "box", "points": [[0.1, 0.1]] * 3}}, "reference"),
     ({"reference": {"shape": "star", "points": [[0.1, 0.1]] * 2}}, "reference"),
     ({"regions": [{"shape": "box", "points": [[0.1, 1.1], [0.2, 0.2]]}]}, "regions"),
     ({"regions": [CARD["regions"][0]] * 99}, "regions"), ({"reference_kind": "card"}, "reference"),
     ({"scale_cm": 900}, "scale_cm"), ({"colour": "red"}, "colour"),
     ({"whole": SIZE["whole"], "scale_cm": 4}, "scale")],
)  # fmt: skip
def test_what_does_not_fit_is_refused_at_its_field(client, photo, said, field):
    assert list(errors(mark(client, photo, **said))) == [field]
    assert not PhotoColour.objects.exists()


def test_nothing_marked_and_no_real_answer_is_refused(client, photo):
    said = errors(client.post(at(photo, "marks"), LIGHT, format="json"))
    assert list(said) == ["reference", "regions"]
    answer = client.post(at(photo, "colour-answer"), {"answer": ""}, format="json")
    assert list(errors(answer)) == ["answer"]


# --- Changes ----------------------------------------------------------------------------------
def test_a_photo_is_told_as_it_comes_and_goes(client, tank, coral):
    cursor = client.get("/api/v1/changes/", {"tank": tank.pk}).json()["cursor"]
    photo = make_photo(coral)
    seen = client.get("/api/v1/changes/", {"tank": tank.pk, "since": cursor}).json()
    [row] = [row for row in seen["results"] if row["kind"] == "photo"]
    assert (row["id"], row["change"]) == (photo.pk, "created")
    assert client.get(row["path"]).json()["id"] == photo.pk
    client.delete(row["path"])
    seen = client.get("/api/v1/changes/", {"tank": tank.pk, "since": seen["cursor"]}).json()
    assert ("photo", photo.pk, "deleted", None) in [
        (row["kind"], row["id"], row["change"], row["path"]) for row in seen["results"]
    ]
