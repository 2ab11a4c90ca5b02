"""Zips that can't be taken: one sentence, and nothing written."""

import io
import json
import struct
import zipfile

import pytest
from django.core.files.storage import default_storage
from PIL import Image

from apps.lighting.models import Fixture
from apps.surveys.models import Meter
from apps.tanks.models import Tank
from apps.transfer.archive import form
from apps.transfer.archive.form import Unfit, UnfitZip
from apps.transfer.archive.opening import OpenedZip
from apps.transfer.archive.restoring import restore
from apps.transfer.models import TankImport
from tests.corals.shots import make_colour
from tests.factories import (
    hang,
    make_coral,
    make_fixture,
    make_light_change,
    make_lit_survey,
    make_meter,
    make_rock,
)
from tests.transfer.zips import exported, imported, members, packed, rows_of, with_row
from tests.workbooks import symbolic_link


@pytest.fixture
def content(tank):
    make_lit_survey(tank, meter=make_meter(tank.owner))
    make_rock(tank)
    make_colour(make_coral(tank))
    hang(make_light_change(tank, tells_rig=True), make_fixture(tank.owner))
    return exported(tank)


@pytest.fixture
def refused(stranger):
    """Return a function that gives (code, sentence) with which a zip is refused."""

    def refusal_of(content):
        before = counts(stranger)
        with pytest.raises(UnfitZip) as caught:
            imported(content, stranger)
        assert counts(stranger) == before
        sentence = str(caught.value)
        assert sentence.endswith(".") and "\n" not in sentence and len(sentence) < 250
        return caught.value.code, sentence

    return refusal_of


def names(refusal, code, name):
    """Tell whether a zip was refused for this, and its sentence names that file or column."""
    return refusal[0] == code and f"“{name}”" in refusal[1]


def counts(keeper):
    own = [model.objects.filter(owner=keeper).count() for model in (Tank, Fixture, Meter)]
    return [*own, TankImport.objects.count()]


def test_honest_one_is_taken(content, stranger):
    """Else the refusals below would prove nothing."""
    assert imported(packed(members(content)), stranger).owner == stranger


def test_no_zip(refused):
    for text in (b"", b"hello", b"\xff\xd8\xff a photo", b"PK"):
        assert refused(text)[0] == Unfit.NOT_OURS


def test_zip_of_something_else(refused):
    assert refused(packed({"holiday.jpg": b"x"}))[0] == Unfit.NOT_OURS


def test_zip_of_before_backups(refused):
    old = packed({"rows/tank.json": b"[]", "read-me.txt": b""})
    assert refused(old)[0] == Unfit.OLDER


@pytest.mark.parametrize("part", [0.1, 0.5, 0.9, 0.999])
def test_truncated(content, refused, part):
    assert refused(content[: int(len(content) * part)])[0] == Unfit.DAMAGED


def test_flipped_bit_within_a_photo(content, refused):
    at = content.index(b"\xff\xd8\xff") + 500
    broken = content[:at] + bytes([content[at] ^ 1]) + content[at + 1 :]
    assert refused(broken)[0] == Unfit.DAMAGED


@pytest.mark.parametrize(
    "name", ["../evil.json", "/etc/passwd", "rows/../../x.json", "photos/..jpg", "C:\\x", "rows/"]
)
def test_path_that_leads_elsewhere(content, refused, name):
    assert refused(packed(members(content) | {name: b"x"}))[0] == Unfit.STRAY_FILE


def test_newer_version(content, refused):
    code, sentence = refused(packed(members(content), version=form.VERSION + 1))
    assert code == Unfit.NEWER and str(form.VERSION + 1) in sentence


@pytest.mark.parametrize("version", [None, "1", 0, -1, 1.5])
def test_version_that_is_none(content, refused, version):
    assert refused(packed(members(content), version=version))[0] == Unfit.NOT_OURS


def test_foreign_format(content, refused):
    assert refused(packed(members(content), format="other"))[0] == Unfit.NOT_OURS


def test_edited_table(content, refused):
    files = members(content)
    files["rows/rock.json"] = files["rows/rock.json"].replace(b"rock", b"rook", 1) + b" "
    assert names(refused(packed(files, sealed=False)), Unfit.CHANGED, "rows/rock.json")


def test_edited_photo(content, refused):
    files = members(content)
    name = next(name for name in files if name.startswith("photos/"))
    files[name] += b"!"
    assert names(refused(packed(files, sealed=False)), Unfit.CHANGED, name)


def test_missing_and_added_file(content, refused):
    files = members(content)
    left = {name: text for name, text in files.items() if name != "rows/rock.json"}
    assert names(refused(packed(left, sealed=False)), Unfit.MISSING_FILE, "rows/rock.json")
    stray = "photos/photo-99-image.jpg"
    added = packed(files | {stray: b"x"}, sealed=False)
    assert names(refused(added), Unfit.STRAY_FILE, stray)


def test_doubled_file(content, refused):
    out = io.BytesIO(content)
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(out, "a") as archive:
        archive.writestr("rows/rock.json", "[]")
    assert refused(out.getvalue())[0] == Unfit.DOUBLE


def test_symbolic_link(content, refused):
    """By its name and its sum it would be a photo like any other."""
    name = next(name for name in members(content) if name.startswith("photos/"))
    files = members(content) | {name: b"/etc/passwd"}
    plain, out = zipfile.ZipFile(io.BytesIO(packed(files))), io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for entry in plain.namelist():
            kind = symbolic_link(entry) if entry == name else entry
            archive.writestr(kind, plain.read(entry))
    assert names(refused(out.getvalue()), Unfit.STRAY_FILE, name)


def test_bomb_by_its_own_word(content, refused):
    """A table of 300 MB of blanks packs to some 300 kB."""
    out = io.BytesIO(content)
    archive = zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED)
    with archive, archive.open("rows/bomb.json", "w") as file:
        for _ in range(300):
            file.write(b" " * 1_000_000)
    assert len(out.getvalue()) < 1_000_000 + len(content)
    assert refused(out.getvalue())[0] == Unfit.TOO_LARGE


def test_bomb_that_hides_its_size(content, refused):
    """Its list of files says one byte; what unpacks is stopped there."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in members(content).items():
            big = b" " * 50_000_000 if name == "rows/rock.json" else text
            archive.writestr(name, big)
    lied = out.getvalue().replace(struct.pack("<I", 50_000_000), struct.pack("<I", 1))
    assert refused(lied)


def test_locked_zip_and_other_packing(content, refused):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_LZMA) as archive:
        for name, text in members(content).items():
            archive.writestr(name, text)
    assert refused(out.getvalue())[0] == Unfit.REPACKED


def test_columns_of_a_newer_reeflog(content, refused):
    assert names(refused(with_row(content, "rock", glow_umol=3.0)), Unfit.NEWER, "glow_umol")
    files = members(content) | {"rows/starfish.json": b"[]"}
    assert names(refused(packed(files)), Unfit.NEWER, "rows/starfish.json")


def test_zip_without_a_later_column_or_table_is_taken(content, stranger):
    """What came later has its usual value in zips of before."""
    files = members(content)
    rocks = rows_of(files, "rock")
    for row in rocks:
        del row["fields"]["name"]
    files["rows/rock.json"] = json.dumps(rocks).encode()
    del files["rows/loggedseries.json"]
    assert imported(packed(files), stranger).rocks.get().name == ""


@pytest.mark.parametrize(
    ("table", "field", "value"),
    [
        ("tank", "length_cm", 1e12),
        ("tank", "length_cm", "60"),
        ("tank", "length_cm", True),
        ("tank", "length_cm", None),
        ("tank", "name", 7),
        ("tank", "name", "x" * 500),
        ("tank", "name", "two\u202elines"),
        ("tank", "time_zone", "Mars/Olympus"),
        ("tank", "back_pane", "mirror ball"),
        ("tank", "created_at", "yesterday"),
        ("tank", "created_at", "2026-01-01T10:00:00"),
        ("tank", "outline_cm", {"a": 1}),
        ("reading", "value_umol", -5.0),
        ("reading", "position", 10**30),
        ("reading", "client_id", "not a mark"),
        ("fixture", "channels", [{"name": 1}]),
        ("fixture", "channels", "white"),
        ("hungfixture", "channel_levels", ["a"]),
        ("healthnote", "noted_on", "31.12.2025"),
        ("healthnote", "also_seen", {"x": 1}),
        ("photo", "width_px", -1),
    ],
)
def test_value_that_no_form_would_take(content, refused, table, field, value):
    refusal = refused(with_row(content, table, **{field: value}))
    assert names(refusal, Unfit.VALUE, field) or refusal[0] == Unfit.UNSOUND


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e999", "-Infinity"])
def test_number_that_is_none(content, refused, number):
    files = members(content)
    text = json.dumps(rows_of(files, "rock")[0]["fields"]["x_cm"])
    files["rows/rock.json"] = files["rows/rock.json"].replace(
        f'"x_cm": {text}'.encode(), f'"x_cm": {number}'.encode()
    )
    assert names(refused(packed(files)), Unfit.UNREADABLE, "rows/rock.json")


def test_deep_and_odd_json(content, refused):
    for text in (
        b"[" * 100_000,
        b"{}",
        b'[{"pk": 1}]',
        b"[3]",
        b"\xff\xfe",
        b'[{"pk": 0, "fields": {}}]',
    ):
        odd = packed(members(content) | {"rows/rock.json": text})
        assert names(refused(odd), Unfit.UNREADABLE, "rows/rock.json")


def test_row_that_points_nowhere(content, refused):
    assert refused(with_row(content, "rock", tank=4_711))[0] == Unfit.LOST_LINK
    assert refused(with_row(content, "rock", tank=None))[0] == Unfit.LOST_LINK


def test_row_cannot_point_to_another_keepers(content, stranger, refused):
    """Even by the right number: numbers of a zip are the zip's own."""
    other = make_meter(stranger, label="Not in the zip")
    refusal = refused(with_row(content, "survey", meter=other.pk + 500))
    assert refusal[0] == Unfit.LOST_LINK


def test_zip_cannot_say_whose_it_is(content, owner, refused):
    assert names(refused(with_row(content, "tank", owner=owner.pk)), Unfit.NEWER, "owner")


def test_person_that_people_do_not_name(content, refused):
    code, sentence = refused(with_row(content, "lightchange", created_by=77))
    assert code == Unfit.LOST_LINK and "people.json" in sentence


def test_row_of_a_key_twice(content, refused):
    files = members(content)
    rows = rows_of(files, "rock")
    files["rows/rock.json"] = json.dumps(rows + rows).encode()
    assert names(refused(packed(files)), Unfit.DOUBLE, "rows/rock.json")


def test_rows_that_the_database_refuses(content, refused):
    files = members(content)
    rows = rows_of(files, "hungfixture")
    files["rows/hungfixture.json"] = json.dumps([rows[0], rows[0] | {"pk": 9_999}]).encode()
    assert refused(packed(files))[0] == Unfit.UNSOUND


def test_two_tanks_or_none(content, refused):
    files = members(content)
    (row,) = rows_of(files, "tank")
    two = json.dumps([row, row | {"pk": row["pk"] + 1}]).encode()
    assert refused(packed(files | {"rows/tank.json": two}))[0] == Unfit.TANKS
    assert refused(packed(files | {"rows/tank.json": b"[]"}))[0] == Unfit.LOST_LINK


def jpeg(**how):
    out = io.BytesIO()
    Image.new("RGB", how.pop("size", (40, 30))).save(out, "JPEG", **how)
    return out.getvalue()


def with_gps():
    exif = Image.Exif()
    exif[0x010F] = "A camera"
    return jpeg(exif=exif)


@pytest.mark.parametrize(
    "photo",
    [b"<html>", b"\xff\xd8\xff\xd9", jpeg() + b"<script>", with_gps(), jpeg(size=(4000, 10)),
     jpeg(comment=b"hello"), jpeg(icc_profile=b"x" * 5000)],
    ids=["page", "empty", "tail", "camera", "large", "comment", "profile"],
)  # fmt: skip
def test_photo_that_reeflog_did_not_make(content, refused, photo):
    files = members(content)
    name = next(name for name in files if name.startswith("photos/"))
    assert names(refused(packed(files | {name: photo})), Unfit.PHOTO, name)


def test_refused_zip_leaves_no_photo_file(content, stranger, as_user, refused):
    from apps.corals.photo_files import take_back_files

    kept = set(default_storage.listdir("notes")[1])
    files = members(content)
    last = [name for name in files if name.startswith("photos/")][-1]
    assert refused(packed(files | {last: b"<html>"}))
    take_back_files()
    assert set(default_storage.listdir("notes")[1]) == kept


def test_plan_names_no_fixture_of_others(tank, stranger):
    """A number in a plan's document means nothing here unless the zip holds that fixture."""
    from tests.planning.questions import make_layout_plan

    make_layout_plan(tank.owner, tank)
    foreign = make_fixture(tank.owner, name="Someone’s own")
    files = members(exported(tank))
    (plan,) = rows_of(files, "plan")
    plan["fields"]["notes"] = "x"
    plan["fields"]["sent"] = {"version": 1, "source": f"own:{foreign.pk}"}
    files["rows/plan.json"] = json.dumps([plan]).encode()
    back = imported(packed(files), stranger)
    assert back.plans.get().sent == {"version": 1, "source": "own:0"}


def test_account_is_no_tank(content, stranger):
    sealed = packed(members(content), kind="account")
    with OpenedZip(io.BytesIO(sealed)) as opened, pytest.raises(UnfitZip) as caught:
        restore(opened, keeper=stranger)
    assert caught.value.code == Unfit.KIND
