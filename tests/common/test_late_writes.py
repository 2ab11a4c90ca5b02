"""What takes long is done before a transaction begins: nobody's save waits for it."""

import datetime as dt
import uuid

import pytest
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.core.files.storage import FileSystemStorage
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from apps.api.photos.marking import CARD
from apps.api.steps import acclimation_serializers
from apps.common.idempotency import new_mark
from apps.corals.colour_models import CoralSize, PhotoColour
from apps.corals.history import recording
from apps.corals.history import sent as history_sent
from apps.corals.history.table import Answers
from apps.corals.history_models import SentPhoto
from apps.corals.models import HealthNote, HistoryImport, Photo, WaterEvent
from apps.corals.notes import forms as note_forms
from apps.corals.notes import round_taking
from apps.corals.photos import colouring
from apps.later.models import Job
from apps.later.running import run_job
from apps.lighting.change import views as change_views
from apps.lighting.rig import rig_in_force
from apps.lightmap.channels.log_forms import LoggedSeriesForm
from apps.lightmap.joint_input import JointInput
from apps.photics.layout.search import Search
from apps.planning.acclimation import views as acclimation_views
from apps.planning.layout.question_forms import QuestionForms
from apps.planning.models import Acclimation, Plan
from apps.planning.what_if import views as what_if_views
from apps.surveys.models import LoggedSeries
from apps.tanks.models import Tank
from tests.api.test_logger import CSV, send_file
from tests.api.test_steps import at, program
from tests.corals.history.test_views import TEXT, add
from tests.corals.notes.test_round import note_of
from tests.corals.notes.test_round import send as send_round
from tests.corals.pictures import encoded, sent
from tests.corals.shots import TYPED, TYPED_SIZE, make_photo
from tests.factories import (
    PASSWORD,
    make_coral,
    make_light_change,
    make_lit_survey,
    make_note,
    make_tank,
)
from tests.lightmap.channels.test_logger import FORM as LOG
from tests.lightmap.channels.test_logger import day_text
from tests.planning.acclimation.test_acclimation_views import typed
from tests.planning.questions import posted
from tests.planning.test_what_if_plans import tried
from tests.planning.what_ifs import make_what_if
from tests.sharing.links import make_plan_link

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


@pytest.mark.parametrize("by", ["page", "round", "program", "tray"])
def test_files_of_photos_are_written_before(as_user, owner, tank, depths, by):
    coral, noted, client = make_coral(tank), depths(FileSystemStorage, "_save"), as_user(owner)
    if by == "page":
        data = {"seen": "paling", "strength": "2", "noted_on": tank.today().isoformat()}
        url = reverse("note_new", args=[coral.pk])
        client.post(url, marked(data | {"photo": sent(encoded())}))
    elif by == "round":
        key = str(uuid.uuid4())
        send_round(client, tank, owner, [note_of(coral, photo=key)], **{key: sent(encoded())})
    elif by == "program":
        url = at(tank, "corals", coral.pk, "photos")
        body = {"note": make_note(coral).pk, "file": sent(encoded())}
        program(owner).post(url, body, format="multipart", headers=KEY)
    else:
        client.post(reverse("history_photos", args=[tank.pk]), {"photos": sent(encoded())})
    assert Photo.objects.count() + SentPhoto.objects.count() == 1 and noted == [0, 0]


def test_a_light_change_sent_back_lets_go_of_its_tank_before(as_user, owner, tank, depths):
    noted, change = depths(change_views, "form_page"), make_light_change(tank)
    url = reverse("light_change_edit", args=[change.pk])
    assert as_user(owner).post(url, {"happened_at": "soon"}).status_code == 422 and noted == [0]


def test_files_of_photos_that_waited_are_written_before(as_user, owner, tank, depths):
    coral, client, url = make_coral(tank), as_user(owner), reverse("history_photos", args=[tank.pk])
    client.post(url, {"photos": sent(encoded())})
    waiting, noted = SentPhoto.objects.get(), depths(FileSystemStorage, "_save")
    day = tank.today().isoformat()
    chosen = {f"coral-{waiting.key}": coral.pk, f"day-{waiting.key}": day}
    client.post(url, {"store": "1"} | chosen)
    assert Photo.objects.count() == 1 and noted == [0, 0]


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


@pytest.mark.parametrize("by", ["page", "program", "job"])
def test_a_table_of_history_is_read_before_its_tank_is_held(
    as_user, owner, tank, depths, monkeypatch, by
):
    make_coral(tank, at_cm=None, since=dt.date(2025, 1, 1))
    noted = depths(recording, "read_history")
    if by == "job":
        monkeypatch.setattr(history_sent, "ADDED_AT_ONCE_CELLS", 1)
    if by == "program":
        body = {"text": TEXT, "names": {"redplate": "new:lps"}}
        for _ in range(2):
            program(owner).post(at(tank, "history-imports"), body, format="json", headers=KEY)
    else:
        add(as_user(owner), tank)
    for job in Job.objects.all():
        run_job(job.pk)
    assert HistoryImport.objects.count() == 1 and noted == [0]


def test_what_another_import_added_meanwhile_is_not_added_again(as_user, owner, tank):
    make_coral(tank, at_cm=None, since=dt.date(2025, 1, 1))
    names = {"redplate": "new:lps"}
    table = recording.read_to_add(tank=tank, text=TEXT, answers=Answers(names=names))
    add(as_user(owner), tank)
    added, history = recording.import_history(tank=tank, table=table, by=owner)
    assert added is None and not history.new and HistoryImport.objects.count() == 1


def test_a_table_read_before_its_tank_changed_its_zone_is_read_by_the_new_one(owner, tank):
    names = {"redplate": "out", "greenbranching": "out"}
    table = recording.read_to_add(tank=tank, text=TEXT, answers=Answers(names=names))
    before = {e.row.happened_at for e in table.history.new if e.kind == "water"}
    Tank.objects.filter(pk=tank.pk).update(time_zone="Asia/Tokyo")
    recording.import_history(tank=tank, table=table, by=owner)
    new_zone = Tank.objects.get(pk=tank.pk).zone
    meant = {moment.astimezone(tank.zone).replace(tzinfo=new_zone) for moment in before}
    assert before and set(WaterEvent.objects.values_list("happened_at", flat=True)) == meant


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


@pytest.mark.parametrize("by_program", [False, True])
def test_a_photo_is_measured_before_its_marks_are_kept(as_user, owner, tank, depths, by_program):
    photo, noted = make_photo(make_coral(tank)), depths(colouring, "measure")
    if by_program:
        place = ["corals", photo.note.coral_id, "photos", photo.key, "marks"]
        program(owner).post(at(tank, *place), CARD, format="json")
    else:
        as_user(owner).post(reverse("photo_detail", args=[photo.key]), TYPED | TYPED_SIZE)
        assert CoralSize.objects.get().photo == photo
    assert PhotoColour.objects.get().photo == photo and noted == [0]


def test_a_photo_deleted_while_it_is_measured_is_not_marked(as_user, owner, tank, monkeypatch):
    photo, usual = make_photo(make_coral(tank)), colouring.measure

    def beside(*args, **kwargs):
        Photo.objects.all().delete()
        return usual(*args, **kwargs)

    monkeypatch.setattr(colouring, "measure", beside)
    url = reverse("photo_detail", args=[photo.key])
    assert as_user(owner).post(url, TYPED | TYPED_SIZE).status_code == 404
    assert not PhotoColour.objects.exists() and not CoralSize.objects.exists()


def test_light_is_fitted_before_a_shared_what_if_is_taken(
    as_user, owner, stranger, tank, kept_folder, depths
):
    token = make_plan_link(make_what_if(owner, tank, level_percent=50))[1]
    mine = make_tank(stranger)
    make_lit_survey(mine, taken_at=timezone.now() - dt.timedelta(days=10))
    cache.clear()
    noted = depths(JointInput, "fit")
    as_user(stranger).post(reverse("shared_plan_take", args=[token]), {"tank": mine.pk})
    assert Plan.objects.filter(owner=stranger).count() == 1
    assert noted and set(noted) == {0}
