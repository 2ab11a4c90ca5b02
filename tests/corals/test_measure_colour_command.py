"""measure_colour: from a photo file and typed marks to numbers, without a database."""

import json

import pytest
from django.core.management import CommandError, call_command
from PIL import Image

from reeflog.demo_photos import Shot, demo_photo
from tests.corals.pictures import SVG
from tests.photics.phone_looks import QUADS, Look, Scene, photograph
from tests.photics.rendered import coral

MARKS = {"reference": "box 8 58 24 82", "coral": ["ellipse 48 50 68 78"]}


@pytest.fixture
def photo(tmp_path):
    path = tmp_path / "photo.jpg"
    path.write_bytes(demo_photo(Shot(lab=(60.0, 5.0, 27.0))).image)
    return path


@pytest.fixture
def pale(tmp_path):
    path = tmp_path / "pale.jpg"
    path.write_bytes(demo_photo(Shot(lab=(80.0, 1.0, 13.0), seed=2)).image)
    return path


def test_colour_is_told_as_json(photo, pale, capsys):
    call_command("measure_colour", pale, baseline=photo, json=True, **MARKS)
    stated = json.loads(capsys.readouterr().out)
    assert stated["lab"] == pytest.approx([80, 1, 13], abs=2.5)
    assert stated["de00"]["low"] < stated["de00"]["value"] < stated["de00"]["high"]


def test_colour_is_told_in_lines(photo, capsys):
    call_command("measure_colour", photo, **MARKS)
    out = capsys.readouterr().out
    assert "L* a* b*" in out and "paleness" in out


def test_refusal_says_why_and_exits_with_three(photo, capsys):
    with pytest.raises(CommandError) as refused:
        call_command("measure_colour", photo, light="blue", **MARKS)
    assert refused.value.returncode == 3
    assert "Under blue light" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("marks", "said"),
    [({"reference": "blob 1 2 3 4"}, "no shape"), ({"coral": ["1 2 3"]}, "pairs")],
)
def test_marks_that_cannot_be_read_are_told(photo, marks, said):
    with pytest.raises(CommandError, match=said):
        call_command("measure_colour", photo, **(MARKS | marks))


def test_file_that_is_no_photo_is_told(tmp_path):
    path = tmp_path / "drawing.jpg"
    path.write_bytes(SVG)
    with pytest.raises(CommandError, match="not a photo"):
        call_command("measure_colour", path, **MARKS)


def test_missing_file_is_told(tmp_path):
    with pytest.raises(CommandError, match="No such file"):
        call_command("measure_colour", tmp_path / "none.jpg", **MARKS)


CARD = {"reference": "outline 4 15, 48 15, 48 59, 4 59", "coral": ["ellipse 56 15 94 85"],
        "reference_kind": "card"}  # fmt: skip


def photo_by(path, look, camera, *, quad=None):
    scene = Scene(coral("green", 0.5), quad=quad, exposure=0.6)
    exif = Image.Exif()
    exif[0x0110] = camera
    Image.fromarray(photograph(look, scene)).save(path, quality=95, exif=exif)
    return path


def test_printed_card_compares_two_phones(tmp_path, capsys):
    vivid = Look(saturation=1.25, contrast=0.35, gamma=0.95)
    before = photo_by(tmp_path / "before.jpg", Look(), "one", quad=QUADS["straight"])
    after = photo_by(tmp_path / "after.jpg", vivid, "two", quad=QUADS["straight"])
    call_command("measure_colour", after, baseline=before, json=True, **CARD)
    apart = json.loads(capsys.readouterr().out)["de00"]
    assert apart["value"] < 2 and apart["low"] == 0


@pytest.mark.parametrize("camera", ["one", "two"])
def test_another_camera_widens_the_interval(tmp_path, capsys, camera):
    widths = []
    for name in ("one", camera):
        before = photo_by(tmp_path / "before.jpg", Look(), "one")
        after = photo_by(tmp_path / "after.jpg", Look(), name)
        marks = CARD | {"reference": "box 6 10 30 60", "reference_kind": "white"}
        call_command("measure_colour", after, baseline=before, json=True, **marks)
        apart = json.loads(capsys.readouterr().out)["de00"]
        widths.append(apart["high"] - apart["low"])
    assert widths[1] == widths[0] if camera == "one" else widths[1] > widths[0] + 1
