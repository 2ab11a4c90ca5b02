"""An answer changed by hand: seen at once, hung as changed, and the plan keeps its own."""

import pytest
from django.urls import reverse

from apps.lighting.models import LightChange
from apps.planning.layout.searching import searched_plan
from tests.planning.layout.test_hanging import answered
from tests.planning.questions import make_layout_plan
from tests.planning.what_ifs import fields_of


@pytest.fixture
def plan(owner, tank):
    return answered(make_layout_plan(owner, tank, name="By hand"))


def sent(plan, **changes):
    """Return the fields of answer 1 of a plan, some changed, lengths in cm."""
    (kind,) = searched_plan(plan).answers[0].layout.hung
    fields = {"by_hand": "1", "level-0": f"{100 * kind.level:g}", "height-0": f"{kind.height_cm:g}",
              "beam-0": f"{kind.beam_deg:g}"}  # fmt: skip
    for n, (x, y) in enumerate(kind.places_cm):
        fields |= {f"x-0-{n}": f"{x:g}", f"y-0-{n}": f"{y:g}"}
    return fields | {name.replace("_", "-"): value for name, value in changes.items()}


def test_another_level_gives_another_light(as_user, owner, plan):
    client, address = as_user(owner), reverse("layout_answer", args=[plan.pk, 1])
    own = client.get(address).context["answer"]
    half = client.get(address, sent(plan, level_0=f"{50 * own.rows[0].fixture.level:g}"))
    assert half.context["changed_by_hand"]
    ratio = half.context["answer"].zones[0].mean_umol / own.zones[0].mean_umol
    assert ratio == pytest.approx(0.5, rel=0.02)


def test_height_optic_and_place_are_changed_too(as_user, owner, plan):
    fields = sent(plan, height_0="33", beam_0="80", x_0_0="12.5")
    page = as_user(owner).get(reverse("layout_answer", args=[plan.pk, 1]), fields)
    fixture = page.context["answer"].rows[0].fixture
    assert (fixture.height_cm, fixture.beam_deg, fixture.x_cm) == (33, 80, 12.5)


def test_each_place_bears_the_number_of_its_lamp_on_the_drawing(as_user, owner, plan):
    page = as_user(owner).get(reverse("layout_answer", args=[plan.pk, 1]))
    places = [place for kind in page.context["hand"].kinds() for place in kind["places"]]
    rows = page.context["answer"].rows
    assert len(places) == len(rows) and [row.number for row in rows] == [*range(1, len(rows) + 1)]
    for (x, y), row in zip(places, rows, strict=True):
        assert x.label != y.label and f" {row.number}," in x.label and f" {row.number}," in y.label
        assert (x.initial, y.initial) == (row.fixture.x_cm, row.fixture.y_cm)


@pytest.mark.parametrize(
    "wrong", [{"level_0": "0"}, {"height_0": "high"}, {"x_0_0": "400"}, {"beam_0": ""}]
)
def test_what_cannot_be_is_marked_and_the_answer_stays(as_user, owner, plan, wrong):
    page = as_user(owner).get(reverse("layout_answer", args=[plan.pk, 1]), sent(plan, **wrong))
    (name,) = wrong
    assert page.status_code == 422 and not page.context["changed_by_hand"]
    assert list(page.context["hand"].errors) == [name.replace("_", "-")]


def test_what_was_changed_hangs_as_changed_and_the_plan_keeps_its_own(as_user, owner, tank, plan):
    client, before = as_user(owner), plan.answer
    filled = client.post(reverse("layout_hang", args=[plan.pk, 1]), sent(plan, height_0="33"),
                         follow=True)  # fmt: skip
    client.post(reverse("light_change_new", args=[tank.pk]), fields_of(filled))
    assert {row.height_cm for row in LightChange.objects.get().hung.all()} == {33}
    plan.refresh_from_db()
    assert plan.answer == before


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
def test_who_may_try_by_hand(request, as_user, plan, reader, status):
    client = as_user(request.getfixturevalue(reader))
    answer = client.get(reverse("layout_answer", args=[plan.pk, 1]), sent(plan))
    assert answer.status_code == status
