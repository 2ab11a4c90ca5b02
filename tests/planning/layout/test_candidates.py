"""The fixtures of a question: output, what shapes the beam, and which of them stay."""

import pytest
from django.urls import reverse

from apps.photics.rig.efficacy import EFFICACIES
from apps.planning.models import Plan
from apps.planning.stored_layout import read_question
from tests.factories import hang, make_fixture, make_light_change
from tests.planning.layout.test_zones import fields_of_form
from tests.planning.questions import posted, posted_box

pytestmark = pytest.mark.one_database

NEW = {
    "fixture-0-source": "new", "fixture-0-name": "Garage panel", "fixture-0-kind": "panel",
    "fixture-0-lit_length_cm": "30", "fixture-0-lit_width_cm": "20", "fixture-0-optics": "90",
}  # fmt: skip


def candidates_of(client, address=None, **sent):
    """Return the candidates of a question that is sent, as they are stored."""
    fields = posted(**sent) if address else posted_box(**sent)
    answer = client.post(address or reverse("layout_new"), fields)
    assert answer.status_code == 302, answer.context["forms"].candidates.errors
    return read_question(Plan.objects.latest("pk").asked).question.candidates


@pytest.mark.parametrize(
    ("sent", "ppf", "ratio"),
    [
        ({"output_as": "ppf", "output": "100"}, 100.0, 1.1 / 0.9),
        ({"output_as": "efficacy", "output": "2", "watts": "60"}, 120.0, 1.2 / 0.8),
        (
            {"output_as": "watts", "watts": "60"},
            60 * EFFICACIES["led"].usual,
            EFFICACIES["led"].high / EFFICACIES["led"].low,
        ),
    ],
)
def test_an_output_is_told_in_one_of_three_ways(as_user, owner, sent, ppf, ratio):
    told = {f"fixture-0-{name}": value for name, value in sent.items()}
    (candidate,) = candidates_of(as_user(owner), **NEW, **told)
    output = candidate.output
    assert candidate.name == "Garage panel" and candidate.panel_x_cm == 30
    assert output.ppf_umol_s == pytest.approx(ppf)
    assert output.high_umol_s / output.low_umol_s == pytest.approx(ratio)


@pytest.mark.parametrize(
    ("source", "known"), [("kind:mid", ""), ("own", "lens")], ids=["usual", "library"]
)
def test_what_shapes_the_beam_is_told_or_taken_from_the_library(as_user, owner, source, known):
    fixture = make_fixture(owner, ppf_umol_s=80, emitter="lens")
    chosen = f"own:{fixture.pk}" if source == "own" else source
    client = as_user(owner)
    (as_known,) = candidates_of(client, **{"fixture-0-source": chosen})
    told = {"fixture-0-source": chosen, "fixture-0-emitter": "bare"}
    (here,) = candidates_of(client, **told)
    assert (as_known.emitter, here.emitter) == (known, "bare")


def test_an_output_told_here_wins_over_the_library(as_user, owner):
    fixture = make_fixture(owner, ppf_umol_s=80)
    told = {"fixture-0-source": f"own:{fixture.pk}", "fixture-0-output_as": "ppf",
            "fixture-0-output": "50"}  # fmt: skip
    (candidate,) = candidates_of(as_user(owner), **told)
    assert candidate.output.ppf_umol_s == 50


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"fixture-0-name": ""}, "name"),
        ({"fixture-0-lit_width_cm": ""}, "lit_width_cm"),
        ({"fixture-0-optics": ""}, "optics"),
        ({"fixture-0-output_as": ""}, "output_as"),
        ({"fixture-0-output": ""}, "output"),
        ({"fixture-0-output": "much"}, "output"),
        (
            {"fixture-0-output_as": "efficacy", "fixture-0-output": "40", "fixture-0-watts": "60"},
            "output",
        ),
        ({"fixture-0-output_as": "efficacy", "fixture-0-output": "2"}, "watts"),
        ({"fixture-0-output_as": "watts"}, "watts"),
        ({"fixture-0-keep": "on"}, "keep"),
    ],
)
def test_what_a_fixture_told_here_lacks_is_marked_at_its_field(as_user, owner, sent, field):
    whole = NEW | {"fixture-0-output_as": "ppf", "fixture-0-output": "100"}
    answer = as_user(owner).post(reverse("layout_new"), posted_box(**(whole | sent)))
    assert answer.status_code == 422 and not Plan.objects.exists()
    assert list(answer.context["forms"].candidates.forms[0].errors) == [field]


@pytest.mark.parametrize(
    "told",
    [
        NEW | {"fixture-0-output_as": "ppf", "fixture-0-output": "100",
               "fixture-0-emitter": "diffuser"},
        NEW | {"fixture-0-output_as": "efficacy", "fixture-0-output": "2", "fixture-0-watts": "60"},
        NEW | {"fixture-0-output_as": "watts", "fixture-0-watts": "60"},
        {"fixture-0-source": "kind:small", "fixture-0-emitter": "lens"},
        {"fixture-0-source": "kind:small", "fixture-0-output_as": "watts"},
    ],
    ids=["ppf", "efficacy", "watts", "emitter", "usual by watts"],
)  # fmt: skip
def test_what_was_told_comes_back_when_a_plan_is_changed(as_user, owner, told):
    client = as_user(owner)
    before = candidates_of(client, **told)
    plan = Plan.objects.get()
    page = client.get(reverse("layout_edit", args=[plan.pk])).content.decode()
    client.post(reverse("layout_edit", args=[plan.pk]), fields_of_form(page))
    assert read_question(Plan.objects.get().asked).question.candidates == before


def test_what_hangs_may_stay_where_it_is(as_user, owner, tank):
    own = make_fixture(owner, name="Old panel", ppf_umol_s=60, beam_deg=100)
    change = make_light_change(tank)
    hang(change, own, x_cm=15, y_cm=30, height_cm=22, turn_deg=90)
    hang(change, own, x_cm=45, y_cm=30, height_cm=22, turn_deg=90)
    hang(change, own, x_cm=30, y_cm=30, height_cm=30, turn_deg=0)
    address = reverse("tank_layout_new", args=[tank.pk])
    client = as_user(owner)
    kept = candidates_of(client, address, count="4",
                         **{"fixture-0-source": f"own:{own.pk}", "fixture-0-keep": "on",
                            "fixture-0-optics": ""})  # fmt: skip
    assert [one.kept_at_cm for one in kept] == [((15, 30), (45, 30)), ((30, 30),)]
    assert [(one.kept_height_cm, one.turn_deg) for one in kept] == [(22, 90), (30, 0)]
    page = client.get(reverse("layout_edit", args=[Plan.objects.get().pk]))
    (row,) = page.context["forms"].candidates
    assert row["keep"].value() is True


def test_what_hangs_is_proposed_first_and_counted(as_user, owner, tank):
    make_fixture(owner, name="A spare", ppf_umol_s=60)
    own = make_fixture(owner, name="Old panel", ppf_umol_s=60)
    change = make_light_change(tank)
    hang(change, own, x_cm=15)
    hang(change, own, x_cm=45)
    page = as_user(owner).get(reverse("tank_layout_new", args=[tank.pk]))
    first = page.context["forms"].candidates.forms[0]
    assert (first["source"].value(), first["owned"].value()) == (f"own:{own.pk}", "2")
    assert first.hangs
