"""Two photos of a coral, before and after, the second laid on the first."""

from dataclasses import dataclass

import numpy as np

from apps.corals.models import Coral, Photo
from apps.corals.photo_cleaning import thumbnail_codes
from apps.photics.colour.alignment import align


@dataclass(frozen=True)
class Comparison:
    """`matrix` puts the pixels of `after` on `before`, as SVG writes it; empty: not found."""

    before: Photo
    after: Photo
    matrix: str
    aligned: bool


def photos_of(coral: Coral) -> list[Photo]:
    """Return the photos of a coral's present notes, oldest first."""
    photos = Photo.objects.filter(note__coral=coral, note__removed_at__isnull=True)
    return list(photos.select_related("note").order_by("note__noted_on", "pk"))


def comparison(before: Photo, after: Photo) -> Comparison:
    """Return the Comparison of two Photos; thumbnails tell how one lies on the other."""
    width, height = before.size_px()
    after_width, after_height = after.size_px()
    try:
        result = align(thumbnail_codes(after), thumbnail_codes(before))
    except FileNotFoundError:
        result = None
    if result is None or not result.sure:
        across, down = width / after_width, height / after_height
        return Comparison(before, after, f"{across:.5g} 0 0 {down:.5g} 0 0", False)
    sizes = np.diag([width, height])
    move = sizes @ result.transform[:, :2] @ np.diag([1 / after_width, 1 / after_height])
    shift = sizes @ result.transform[:, 2]
    numbers = (move[0, 0], move[1, 0], move[0, 1], move[1, 1], *shift)
    return Comparison(before, after, " ".join(f"{number:.5g}" for number in numbers), True)
