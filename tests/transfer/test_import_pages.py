"""Bringing a zip in by page and by command: seen first, stored once, for its keeper alone."""

import datetime as dt
import io
import uuid

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import Photo
from apps.planning.models import Plan
from apps.surveys.models import Meter
from apps.tanks.models import Tank
from apps.transfer.archive import jobs
from apps.transfer.archive.arrivals import purge_arrivals
from apps.transfer.archive.restoring import free_name
from apps.transfer.archive.writing import write_account
from apps.transfer.models import Arrival
from tests.corals.shots import make_colour
from tests.factories import make_coral, make_lit_survey, make_meter, make_plan, make_rock, make_tank
from tests.transfer.zips import canonical, exported, members, packed, with_row

NEW = reverse("tank_import")


@pytest.fixture(autouse=True)
def all_small(monkeypatch):
    """Zips come in before the page answers; `test_zip_jobs.py` tries large ones."""
    monkeypatch.setattr(jobs, "INNER_BYTES", 10_000_000)


@pytest.fixture
def full_tank(tank):
    make_lit_survey(tank, meter=make_meter(tank.owner))
    make_rock(tank)
    make_colour(make_coral(tank))
    return tank


def account_zip(user):
    out = io.BytesIO()
    write_account(user, out, io.BytesIO())
    return out.getvalue()


def send(client, content):
    return client.post(NEW, {"file": SimpleUploadedFile("reef.zip", content)})


def labels_of(keeper):
    return sorted(Meter.objects.filter(owner=keeper).values_list("label", flat=True))


def stored_zips():
    try:
        return default_storage.listdir("arrivals")[1]
    except FileNotFoundError:
        return []


def test_zip_is_shown_and_then_stored(as_user, stranger, full_tank):
    content = exported(full_tank)
    client = as_user(stranger)
    preview = send(client, content).url
    assert not Tank.objects.filter(owner=stranger).exists()
    (shown,) = client.get(preview).context["previews"]
    assert shown.name == "Harbour cube" and {"27 readings", "1 coral", "1 photo"} <= {*shown.counts}
    answer = client.post(preview)
    tank = Tank.objects.get(owner=stranger)
    assert answer.url == reverse("tank_detail", args=[tank.pk])
    assert canonical(exported(tank)) == canonical(content)


def test_second_word_makes_no_second_tank(as_user, stranger, full_tank):
    client = as_user(stranger)
    preview = send(client, exported(full_tank)).url
    first, second = client.post(preview), client.post(preview)
    assert first.url == second.url == client.get(preview).url
    assert Tank.objects.filter(owner=stranger).count() == 1


@pytest.mark.django_db(transaction=True)
def test_zip_is_deleted_once_it_is_in(as_user, stranger, full_tank):
    client = as_user(stranger)
    preview = send(client, exported(full_tank)).url
    assert len(stored_zips()) == 1
    client.post(preview)
    assert stored_zips() == []


def test_same_content_again_is_said(as_user, stranger, full_tank):
    client, content = as_user(stranger), exported(full_tank)
    client.post(send(client, content).url)
    (shown,) = client.get(send(client, content).url).context["previews"]
    assert [tank.owner for tank in shown.known] == [stranger]


def test_a_tank_of_the_same_name_is_said_and_the_copy_named_apart(as_user, owner, full_tank):
    client, content = as_user(owner), exported(full_tank)
    for name in (f"{full_tank.name} (copy)", f"{full_tank.name} (copy 2)"):
        preview = send(client, content).url
        page = client.get(preview)
        (shown,) = page.context["previews"]
        assert (shown.namesakes, shown.name_here) == ([full_tank], name)
        assert f"“{name}”" in page.content.decode()
        client.post(preview)
        assert owner.owned_tanks.filter(name=name).count() == 1


def test_a_tank_of_nobodys_name_keeps_its_own(as_user, stranger, full_tank):
    (shown,) = (
        as_user(stranger).get(send(as_user(stranger), exported(full_tank)).url).context["previews"]
    )
    assert (shown.namesakes, shown.name_here) == ([], full_tank.name)


def test_the_name_of_a_copy_fits(owner):
    most = Tank._meta.get_field("name").max_length
    make_tank(owner, name="N" * most)
    assert free_name("N" * most, owner) == "N" * (most - 7) + " (copy)"


def test_bad_zip_is_refused_at_its_field(as_user, stranger, full_tank):
    for content in (b"hello", exported(full_tank)[:-300]):
        answer = send(as_user(stranger), content)
        assert answer.status_code == 422 and len(answer.context["form"].errors["file"]) == 1
    assert not Arrival.objects.exists() and stored_zips() == []
    assert as_user(stranger).post(NEW, {}).status_code == 422


def test_zip_beyond_the_sites_limit(as_user, stranger, settings):
    settings.ARRIVAL_BYTES_MAX = 1_000
    answer = send(as_user(stranger), b"x" * 1_001)
    assert answer.status_code == 422 and "import_tank" in str(answer.context["form"].errors)


def test_rows_that_do_not_fit_write_nothing(as_user, stranger, full_tank):
    client = as_user(stranger)
    preview = send(client, with_row(exported(full_tank), "reading", value_umol=-3.0)).url
    assert client.post(preview).url == NEW
    assert not Tank.objects.filter(owner=stranger).exists()
    assert not Meter.objects.filter(owner=stranger).exists()


def test_only_who_sent_it_sees_it(as_user, owner, stranger, full_tank):
    preview = send(as_user(owner), exported(full_tank)).url
    assert as_user(stranger).get(preview).status_code == 404
    assert as_user(stranger).post(preview).status_code == 404
    unknown = reverse("tank_import_preview", args=[uuid.uuid4()])
    assert as_user(owner).get(unknown).status_code == 404


def test_one_zip_waits_a_keeper(as_user, owner, full_tank, django_capture_on_commit_callbacks):
    client = as_user(owner)
    first = send(client, exported(full_tank)).url
    with django_capture_on_commit_callbacks(execute=True):
        send(client, exported(full_tank))
    assert len(stored_zips()) == 1
    assert client.get(first).url == NEW


def test_zip_that_waited_a_day_is_deleted(as_user, owner, full_tank):
    send(as_user(owner), exported(full_tank))
    now = timezone.now()
    assert purge_arrivals(now + dt.timedelta(hours=23)) == 0 and len(stored_zips()) == 1
    assert purge_arrivals(now + dt.timedelta(hours=25)) == 1 and stored_zips() == []
    purge_arrivals(now + dt.timedelta(days=31))
    assert not Arrival.objects.exists()


# --- A whole account ------------------------------------------------------------------------
def test_whole_account_comes_back(as_user, owner, stranger, full_tank):
    make_tank(owner, name="Deleted one").remove()
    make_meter(owner, label="Never used")
    make_plan(owner)
    content = account_zip(owner)
    before = [canonical(exported(tank)) for tank in Tank.objects.filter(owner=owner).order_by("pk")]
    client = as_user(stranger)
    preview = send(client, content).url
    assert [one.name for one in client.get(preview).context["previews"]] == [
        "", "Harbour cube", "Deleted one",
    ]  # fmt: skip
    assert client.post(preview).url == reverse("tank_list")
    tanks = Tank.objects.filter(owner=stranger).order_by("pk")
    assert [canonical(exported(tank)) for tank in tanks] == before
    assert tanks[1].removed_at is not None
    labels = Meter.objects.filter(owner=stranger).values_list("label", flat=True)
    assert sorted(labels) == sorted(
        Meter.objects.filter(owner=owner).values_list("label", flat=True)
    )
    assert Plan.objects.filter(owner=stranger, tank=None).count() == 1


def test_account_with_one_bad_tank_stores_nothing(stranger, owner, full_tank, tmp_path):
    make_tank(owner, name="Second")
    files = members(account_zip(owner))
    files["tanks/2.zip"] = with_row(files["tanks/2.zip"], "tank", length_cm=-1.0)
    path = tmp_path / "account.zip"
    path.write_bytes(packed(files))
    with pytest.raises(CommandError, match="Nothing was imported"):
        call_command("import_tank", path, "--keeper", stranger.email)
    assert not Tank.objects.filter(owner=stranger).exists()
    assert Photo.objects.count() == 1 and len(default_storage.listdir("notes")[1]) == 2


def test_account_zip_holds_no_address_of_anyone(owner, co_keeper, full_tank):
    files = members(account_zip(owner))
    inner = [text for name, text in files.items() if name.endswith(".zip")]
    texts = [*files.values(), *(t for content in inner for t in members(content).values())]
    assert not any(b"@example.org" in text for text in texts)


def test_account_is_the_askers_own(as_user, owner, stranger, full_tank):
    answer = as_user(stranger).get(reverse("account_export"))
    names = members(b"".join(answer.streaming_content)).keys()
    assert not any(name.startswith("tanks/") for name in names)


# --- Commands -------------------------------------------------------------------------------
def test_commands_carry_a_tank_over(full_tank, stranger, tmp_path, capsys):
    path = tmp_path / "tank.zip"
    call_command("export_tank", full_tank.pk, path)
    call_command("import_tank", path, "--keeper", stranger.email)
    assert "2 photo files" in capsys.readouterr().out
    with pytest.raises(CommandError, match="already"):
        call_command("import_tank", path, "--keeper", stranger.email)
    call_command("import_tank", path, "--keeper", stranger.email, "--again")
    assert Tank.objects.filter(owner=stranger).count() == 2


def test_commands_carry_an_account_over(owner, full_tank, stranger, tmp_path):
    path = tmp_path / "account.zip"
    call_command("export_account", owner.email, path)
    call_command("import_tank", path, "--keeper", stranger.email)
    assert Tank.objects.get(owner=stranger).name == full_tank.name
    with pytest.raises(CommandError, match="exists"):
        call_command("export_account", owner.email, path)


def test_commands_name_who_is_not_there(tmp_path, db, full_tank):
    path = tmp_path / "tank.zip"
    path.write_bytes(exported(full_tank))
    for arguments in (("import_tank", path, "--keeper", "no@example.org"),
                      ("export_account", "no@example.org", tmp_path / "y.zip")):  # fmt: skip
        with pytest.raises(CommandError, match="No account uses"):
            call_command(*arguments)
    with pytest.raises(CommandError, match="No such file"):
        call_command("import_tank", tmp_path / "none.zip", "--keeper", full_tank.owner.email)
