"""A tank as one file: every table and every photo, for its owner alone."""

import io
import json
import zipfile

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.urls import reverse

from apps.sharing.models import ShareLink
from apps.tanks.models import RowChange, TankStamp
from apps.transfer.archive.tables import LEFT_OUT, STATED_BY, tables
from tests.corals.shots import make_colour
from tests.factories import let_in, make_coral, make_lit_survey, make_tank, make_user


@pytest.fixture
def full_tank(tank):
    make_lit_survey(tank)
    make_colour(make_coral(tank))
    make_coral(make_tank(make_user()), name="A stranger’s coral")
    return tank


def unpacked(client, tank):
    answer = client.get(reverse("tank_export", args=[tank.pk]))
    return zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))


def rows(archive, name):
    return json.loads(archive.read(f"rows/{name}.json"))


def test_rows_and_photos_are_in_the_file(as_user, owner, full_tank):
    archive = unpacked(as_user(owner), full_tank)
    (photo,) = rows(archive, "photo")
    assert {row["fields"]["name"] for row in rows(archive, "coral")} == {"Green branching"}
    assert len(rows(archive, "reading")) == 27 and len(rows(archive, "photocolour")) == 1
    assert len(rows(archive, "fixture")) == 1
    for name in ("image", "thumbnail"):
        kept = archive.read(photo["fields"][name])
        assert kept.startswith(b"\xff\xd8") and kept.endswith(b"\xff\xd9")


def test_every_table_goes_along_or_is_left_out_on_purpose():
    told = {m for label in STATED_BY for m in apps.get_app_config(label).get_models()}
    assert told == set(tables()) | LEFT_OUT | {TankStamp, RowChange}
    assert ShareLink not in tables()


def test_only_the_owner_takes_it_out(as_user, owner, co_keeper, viewer, stranger, full_tank):
    url = reverse("tank_export", args=[full_tank.pk])
    codes = [as_user(user).get(url).status_code for user in (co_keeper, viewer, stranger)]
    assert codes == [403, 403, 404]


def test_names_of_friends_stay(as_user, owner, full_tank):
    let_in(full_tank, make_user(email="friend@example.org"))
    archive = unpacked(as_user(owner), full_tank)
    assert not any(b"@example.org" in archive.read(name) for name in archive.namelist())


def test_lost_photo_does_not_stop_the_export(as_user, owner, full_tank):
    from apps.corals.models import Photo

    Photo.objects.get().image.delete(save=False)
    assert len(rows(unpacked(as_user(owner), full_tank), "coral")) == 1


def test_command_writes_a_new_file_only(full_tank, tmp_path, capsys):
    out = tmp_path / "tank.zip"
    call_command("export_tank", full_tank.pk, out)
    assert "2 photo files" in capsys.readouterr().out and zipfile.is_zipfile(out)
    with pytest.raises(CommandError, match="exists"):
        call_command("export_tank", full_tank.pk, out)


def test_command_names_a_tank_that_is_none(db, tmp_path):
    with pytest.raises(CommandError, match="no tank 999"):
        call_command("export_tank", 999, tmp_path / "x.zip")
