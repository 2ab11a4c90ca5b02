"""Photos: what is kept is made here, and nothing rides along."""

import io

import pytest
from PIL import Image

from apps.corals.photos import IMAGE_SIDE, THUMBNAIL_SIDE, UnusablePhoto, clean_photo
from tests.corals.pictures import (
    BROUGHT,
    HOSTILE,
    LADEN,
    encoded,
    picture,
    sent,
    with_place_and_turn,
)

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


def test_at_least_twenty_are_tried():
    assert len(HOSTILE) >= 20


@pytest.mark.parametrize("content", LADEN.values(), ids=LADEN)
def test_what_rides_along_is_gone(content):
    clean = clean_photo(sent(content), bytes_max=ROOM)
    assert len(opened(clean.image).getexif()) == 0
    for made in (clean.image, clean.thumbnail):
        assert not any(word in made for word in BROUGHT)


def test_picture_is_turned_upright():
    turned = opened(clean_photo(sent(with_place_and_turn()), bytes_max=ROOM).image)
    assert turned.size == (40, 60)
    # Turned right, the red left half lies on top.
    red, _, blue = turned.getpixel((20, 8))
    assert red > 200 > 60 > blue


def test_large_picture_is_made_smaller():
    clean = clean_photo(sent(encoded(made=picture(4000, 1000))), bytes_max=ROOM)
    assert opened(clean.image).size == (IMAGE_SIDE, IMAGE_SIDE // 4)
    assert max(opened(clean.thumbnail).size) == THUMBNAIL_SIDE
    assert (clean.width_px, clean.height_px) == opened(clean.image).size


def test_transparent_parts_become_white():
    clean = clean_photo(
        sent(encoded("PNG", Image.new("RGBA", (20, 20), (0, 0, 0, 0)))), bytes_max=ROOM
    )
    assert min(opened(clean.image).getpixel((10, 10))) > 250


def test_file_over_the_limit_is_refused_by_its_size():
    with pytest.raises(UnusablePhoto, match="MB"):
        clean_photo(sent(encoded()), bytes_max=100)
