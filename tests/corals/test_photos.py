"""Photos: what is kept is made here, and nothing rides along."""

import io

import pytest
from PIL import Image

from apps.corals.photos import IMAGE_SIDE, THUMBNAIL_SIDE, UnusablePhoto, clean_photo
from tests.corals.pictures import HOSTILE, encoded, picture, sent, with_place_and_turn

ROOM = 10_000_000


def opened(data):
    return Image.open(io.BytesIO(data))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_usual_kinds_become_jpeg(kind):
    clean = clean_photo(sent(encoded(kind)), bytes_max=ROOM)
    assert (opened(clean.image).format, opened(clean.thumbnail).format) == ("JPEG", "JPEG")


@pytest.mark.parametrize("content", HOSTILE.values(), ids=HOSTILE)
def test_hostile_files_are_refused_with_a_sentence(content):
    with pytest.raises(UnusablePhoto) as refused:
        clean_photo(sent(content), bytes_max=ROOM)
    assert str(refused.value).endswith(".")


def test_place_and_camera_are_gone():
    clean = clean_photo(sent(with_place_and_turn()), bytes_max=ROOM)
    assert len(opened(clean.image).getexif()) == 0
    assert b"Some camera" not in clean.image and b"Exif" not in clean.image


def test_picture_is_turned_upright():
    turned = opened(clean_photo(sent(with_place_and_turn()), bytes_max=ROOM).image)
    assert turned.size == (40, 60)
    # Turned right, the red left half lies on top.
    red, _, blue = turned.getpixel((20, 8))
    assert red > 200 > 60 > blue


def test_comment_behind_a_jpeg_does_not_survive():
    clean = clean_photo(sent(encoded() + b"<?php evil ?>"), bytes_max=ROOM)
    assert b"evil" not in clean.image


def test_large_picture_is_made_smaller():
    clean = clean_photo(sent(encoded(made=picture(4000, 1000))), bytes_max=ROOM)
    assert opened(clean.image).size == (IMAGE_SIDE, IMAGE_SIDE // 4)
    assert max(opened(clean.thumbnail).size) == THUMBNAIL_SIDE


def test_transparent_parts_become_white():
    clean = clean_photo(
        sent(encoded("PNG", Image.new("RGBA", (20, 20), (0, 0, 0, 0)))), bytes_max=ROOM
    )
    assert min(opened(clean.image).getpixel((10, 10))) > 250


def test_file_over_the_limit_is_refused_by_its_size():
    with pytest.raises(UnusablePhoto, match="MB"):
        clean_photo(sent(encoded()), bytes_max=100)
