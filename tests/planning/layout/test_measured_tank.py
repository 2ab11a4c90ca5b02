"""Layouts over a surveyed tank: planned with what the survey told of it and of its fixtures."""

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.common.moments import day_text
from apps.lighting.models import Fixture
from apps.lightmap.stated_outputs import ReadTank
from apps.photics.rig.tank_optics import USUAL_LAW
from apps.planning.layout.measured_tank import measured_tank
from apps.planning.models import Plan
from apps.planning.stored_layout import read_question
from reeflog.demo_light import true_par
from tests.factories import (
    grid_readings,
    hang,
    make_fixture,
    make_light_change,
    make_lit_survey,
    make_survey,
    make_tank,
)
from tests.planning.questions import make_layout_plan, posted, posted_box

TRUE_UMOL_S = 120.0


def asked_for(client, tank, fixture):
    typed = posted(**{"fixture-0-source": f"own:{fixture.pk}", "fixture-0-optics": ""})
    page = client.post(reverse("tank_layout_new", args=[tank.pk]), typed, follow=True)
    return read_question(Plan.objects.get().asked), page.content.decode()


@pytest.fixture
def hung(tank):
    """Return the library's panel that hung at a survey of the tank."""
    make_lit_survey(tank, ppf_umol_s=TRUE_UMOL_S)
    Fixture.objects.update(watts=90)
    return Fixture.objects.get()


def test_the_output_of_what_hung_is_the_one_that_lit_the_readings(tank, hung):
    # The readings are of a bare cosine lobe with other panes: not the model's own.
    found = measured_tank(tank, timezone.now()).outputs[hung.pk]
    assert found.ppf_umol_s == pytest.approx(TRUE_UMOL_S, rel=0.25)
    assert found.low_umol_s < TRUE_UMOL_S < found.high_umol_s


def test_outputs_are_those_of_what_shone_on_the_display(owner, tank):
    """A refugium's lamp hangs first, and one whose channels are all off is dark at full level."""
    change = make_light_change(tank, factor=1, summary="Hung")
    hang(change, make_fixture(owner, name="Refugium", zone="refugium"))
    blue = [{"name": "Blue", "peak_nm": 450, "share_percent": 100}]
    hang(change, make_fixture(owner, name="Off", channels=blue), channel_levels={"Blue": 0})
    panel = hang(change, make_fixture(owner, name="Lit"))
    places = [row[:3] for row in grid_readings(tank)]
    par = true_par(places, tank=tank.scene(), fixtures=[panel.scene()], ppf_umol_s=TRUE_UMOL_S)
    make_survey(tank, readings=[(*at, float(p)) for at, p in zip(places, par, strict=True)])
    found = measured_tank(tank, timezone.now()).outputs
    assert list(found) == [panel.fixture_id]
    assert found[panel.fixture_id].ppf_umol_s == pytest.approx(TRUE_UMOL_S, rel=0.25)


def test_a_plan_says_which_survey_and_output_it_rests_on(as_user, owner, tank, hung):
    asked, text = asked_for(as_user(owner), tank, hung)
    assert asked.question.law != USUAL_LAW
    assert asked.question.candidates[0].output.words in text
    assert asked.surveyed_on is not None and day_text(asked.surveyed_on) in text


def test_a_fixture_that_did_not_hang_is_taken_by_what_is_told(as_user, owner, tank, hung):
    other = make_fixture(owner, name="New bar", ppf_umol_s=70)
    asked = asked_for(as_user(owner), tank, other)[0]
    assert asked.question.candidates[0].output.words == "the rated output"
    assert asked.question.law != USUAL_LAW


def test_a_fixture_told_by_nobody_is_taken_as_the_survey_measured_it(as_user, owner, tank, hung):
    Fixture.objects.update(watts=None)
    new = as_user(owner).get(reverse("tank_layout_new", args=[tank.pk])).content.decode()
    assert f'value="own:{hung.pk}" selected' in new
    asked, text = asked_for(as_user(owner), tank, hung)
    assert asked.question.candidates[0].output.ppf_umol_s == pytest.approx(TRUE_UMOL_S, rel=0.25)
    assert asked.question.candidates[0].output.words in text


def test_over_another_tank_a_fixture_gives_what_was_measured_of_it(as_user, owner, tank, hung):
    """Rated far above what it gives, it is planned with what its map is drawn with."""
    Fixture.objects.update(ppf_umol_s=200)
    measured = ReadTank(tank).output_of(hung.pk).output
    asked, text = asked_for(as_user(owner), make_tank(owner), hung)
    assert asked.question.candidates[0].output == measured
    assert asked.question.law == USUAL_LAW
    assert "data-measured-output" in text and measured.words in text


def test_without_a_tank_too(as_user, owner, tank, hung):
    Fixture.objects.update(watts=None)
    sent = posted_box(**{"fixture-0-source": f"own:{hung.pk}"})
    as_user(owner).post(reverse("layout_new"), sent)
    output = read_question(Plan.objects.get().asked).question.candidates[0].output
    assert output == ReadTank(tank).output_of(hung.pk).output


def test_what_a_strangers_tank_measured_is_no_output_of_mine(as_user, stranger, tank, hung):
    Fixture.objects.update(owner=stranger, watts=None)
    sent = posted_box(**{"fixture-0-source": f"own:{hung.pk}"})
    page = as_user(stranger).post(reverse("layout_new"), sent)
    assert page.status_code == 422 and not Plan.objects.exists()


def test_a_stated_output_is_not_called_measured(as_user, owner, tank, hung):
    text = asked_for(as_user(owner), tank, make_fixture(owner, ppf_umol_s=70))[1]
    assert "data-measured-output" not in text


def test_an_output_typed_for_the_plan_counts_before_a_measured_one(as_user, owner, tank, hung):
    typed = posted(**{
        "fixture-0-source": f"own:{hung.pk}", "fixture-0-output_as": "ppf",
        "fixture-0-output": "200",
    })  # fmt: skip
    as_user(owner).post(reverse("tank_layout_new", args=[make_tank(owner).pk]), typed)
    output = read_question(Plan.objects.get().asked).question.candidates[0].output
    assert (output.ppf_umol_s, output.measured) == (200, False)


def test_a_measured_output_is_no_typed_one_when_a_plan_is_asked_again(as_user, owner, tank, hung):
    asked_for(as_user(owner), make_tank(owner), hung)
    page = as_user(owner).get(reverse("layout_edit", args=[Plan.objects.get().pk]))
    (row,) = page.context["forms"].candidates
    assert not row["output_as"].value()


def test_a_plan_of_before_knows_by_its_words_that_an_output_was_measured(
    as_user, owner, tank, hung
):
    asked_for(as_user(owner), tank, hung)
    plan = Plan.objects.get()
    del plan.asked["question"]["candidates"][0]["output"]["measured"]
    assert read_question(plan.asked).question.candidates[0].output.measured


def test_a_newer_survey_is_told_until_it_is_asked_again(as_user, owner, tank, hung):
    client = as_user(owner)
    typed = posted(**{"fixture-0-source": f"own:{hung.pk}"})
    client.post(reverse("tank_layout_new", args=[tank.pk]), typed)
    plan = Plan.objects.get()
    address = reverse("layout_detail", args=[plan.pk])
    assert 'id="newer-survey"' not in client.get(address).content.decode()
    plan.asked["surveyed_on"] = "2020-01-01"
    plan.save()
    body = " ".join(client.get(address).content.decode().split())
    assert 'id="newer-survey"' in body and "1 Jan 2020" in body
    again = client.post(reverse("layout_edit", args=[plan.pk]), typed, follow=True)
    assert 'id="newer-survey"' not in again.content.decode()


def test_a_survey_that_no_plan_can_rest_on_is_not_newer(as_user, owner, tank):
    make_survey(tank)
    plan = make_layout_plan(owner, tank)
    page = as_user(owner).get(reverse("layout_detail", args=[plan.pk]))
    assert 'id="newer-survey"' not in page.content.decode()


def test_viewer_is_told_of_a_newer_survey_but_not_to_ask(as_user, owner, viewer, tank, hung):
    plan = make_layout_plan(owner, tank)
    body = as_user(viewer).get(reverse("layout_detail", args=[plan.pk])).content.decode()
    assert 'id="newer-survey"' in body
    assert reverse("layout_edit", args=[plan.pk]) not in body


@pytest.mark.parametrize("readings", [None, []])
def test_a_map_without_fixtures_tells_a_plan_nothing(as_user, owner, tank, readings):
    make_survey(tank, readings=readings)
    asked, text = asked_for(as_user(owner), tank, make_fixture(owner, ppf_umol_s=70))
    assert (asked.question.law, asked.surveyed_on) == (USUAL_LAW, None)
    assert "not measured" in text


def test_a_plan_of_before_is_read_as_of_a_usual_tank(owner, tank):
    plan = make_layout_plan(owner, tank)
    del plan.asked["question"]["law"], plan.asked["surveyed_on"]
    assert read_question(plan.asked).question.law == USUAL_LAW
