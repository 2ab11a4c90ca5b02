"""What takes long is done before a transaction begins: nobody's save waits for it."""

import datetime as dt
import uuid

import pytest
from django.contrib.sessions.models import Session
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from apps.api.steps import acclimation_serializers
from apps.common.idempotency import new_mark
from apps.corals.models import HealthNote
from apps.corals.notes import forms as note_forms
from apps.corals.notes import round_taking
from apps.lighting.rig import rig_in_force
from apps.lightmap.channels.log_views import LoggedSeriesForm
from apps.photics.layout.search import Search
from apps.planning.acclimation import views as acclimation_views
from apps.planning.layout.question_forms import QuestionForms
from apps.planning.models import Acclimation, Plan
from apps.planning.what_if import views as what_if_views
from apps.surveys.models import LoggedSeries
from tests.api.test_logger import CSV, send_file
from tests.api.test_steps import at, program
from tests.corals.notes.test_round import note_of
from tests.corals.notes.test_round import send as send_round
from tests.corals.pictures import encoded, sent
from tests.factories import PASSWORD, make_coral, make_lit_survey
from tests.lightmap.channels.test_logger import FORM as LOG
from tests.lightmap.channels.test_logger import day_text
from tests.planning.acclimation.test_acclimation_views import typed
from tests.planning.questions import posted
from tests.planning.test_what_if_plans import tried

KEY = {"Idempotency-Key": "k"}


@pytest.fixture
def depths(db, monkeypatch):
    """Return a function that notes in how many transactions what is named is called.

    A test is one itself, which is not counted.
    """
    before = len(connection.savepoint_ids)

    def watch(owner, name):
        noted, usual = [], getattr(owner, name)

        def called(*args, **kwargs):
            noted.append(len(connection.savepoint_ids) - before)
            return usual(*args, **kwargs)

        monkeypatch.setattr(owner, name, called)
        return noted

    return watch


@pytest.fixture
def lit(tank):
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    return tank


def marked(data):
    return data | {"form_mark": new_mark()}


def test_a_notes_photo_is_decoded_before(as_user, owner, tank, depths):
    coral, noted = make_coral(tank), depths(note_forms, "clean_photo")
    data = {"seen": "paling", "strength": "2", "noted_on": tank.today().isoformat()}
    url = reverse("note_new", args=[coral.pk])
    as_user(owner).post(url, marked(data | {"photo": sent(encoded())}))
    assert HealthNote.objects.get().photos.count() == 1 and noted == [0]


def test_a_rounds_photos_are_decoded_before_and_those_known_not_at_all(
    as_user, owner, tank, depths
):
    coral, noted, key = make_coral(tank), depths(round_taking, "clean_photo"), str(uuid.uuid4())
    note = note_of(coral, photo=key)
    for _ in range(2):
        send_round(as_user(owner), tank, owner, [note], **{key: sent(encoded())})
    assert HealthNote.objects.get().photos.count() == 1 and noted == [0]


def test_a_new_layout_is_searched_before(as_user, owner, tank, depths):
    noted = depths(Search, "advance")
    url, data = reverse("tank_layout_new", args=[tank.pk]), marked(posted())
    first, again = (as_user(owner).post(url, data) for _ in range(2))
    assert Plan.objects.get().answer["finished"] and set(noted) == {0}
    assert first["Location"] == again["Location"]


def test_an_edited_layout_keeps_how_far_another_turn_came(as_user, owner, tank, monkeypatch):
    as_user(owner).post(reverse("tank_layout_new", args=[tank.pk]), posted())
    plan, usual = Plan.objects.get(), QuestionForms.is_valid
    newer = plan.answer | {"step": plan.answer["step"] + 5}

    def beside_a_turn(forms):
        Plan.objects.filter(pk=plan.pk).update(answer=newer)
        return usual(forms)

    monkeypatch.setattr(QuestionForms, "is_valid", beside_a_turn)
    as_user(owner).post(reverse("layout_edit", args=[plan.pk]), posted(name="Other"))
    assert (Plan.objects.get().name, Plan.objects.get().answer) == ("Other", newer)


@pytest.mark.parametrize("whole_tank", [False, True])
def test_light_is_fitted_before_an_acclimation_is_kept(as_user, owner, lit, depths, whole_tank):
    coral, noted = make_coral(lit), depths(acclimation_views, "live_light")
    name, pk = ("acclimation_tank_new", lit.pk) if whole_tank else ("acclimation_new", coral.pk)
    more = {"factor": "0.8"} if whole_tank else {}
    data = typed(starts_on=lit.today().isoformat(), **more)
    as_user(owner).post(reverse(name, args=[pk]), marked(data))
    assert Acclimation.objects.count() == 1 and noted == [0]


def test_light_is_fitted_before_a_what_if_is_kept(as_user, owner, lit, depths):
    noted = depths(what_if_views, "live_light")
    rig = tried(rig_in_force(lit, timezone.now()), level_percent=50)
    as_user(owner).post(reverse("what_if_save", args=[lit.pk]), marked({"name": "", "rig": rig}))
    assert Plan.objects.count() == 1 and noted == [0]


def test_light_is_fitted_before_a_programs_acclimation_is_kept(owner, lit, depths):
    coral, noted = make_coral(lit), depths(acclimation_serializers, "live_light")
    body = {"coral": coral.pk, "target_umol": 150, "start_umol": 100}
    client, url = program(owner), at(lit, "acclimations")
    first, again = (client.post(url, body, format="json", headers=KEY) for _ in range(2))
    assert first.status_code == 201 and first.data == again.data
    assert Acclimation.objects.get().created_by == owner and noted == [0]


def test_a_loggers_file_is_read_before_by_page_and_program(as_user, owner, tank, depths):
    noted = depths(LoggedSeriesForm, "clean")
    file = sent(day_text("2026-03-01").encode(), name="log.csv")
    as_user(owner).post(reverse("log_new", args=[tank.pk]), marked(LOG | {"file": file}))
    for _ in range(2):
        send_file(program(owner), tank, CSV, headers=KEY)
    assert LoggedSeries.objects.count() == 2 and noted == [0, 0]


def test_the_sign_ins_of_a_site_are_read_while_nobody_waits(as_user, stranger, depths):
    client, noted = as_user(stranger), depths(Session, "get_decoded")
    as_user(stranger)
    client.post(reverse("account_delete"), {"password": PASSWORD})
    stranger.refresh_from_db()
    assert stranger.leaves_at and noted == [0, 0]
    assert not Session.objects.exists()
