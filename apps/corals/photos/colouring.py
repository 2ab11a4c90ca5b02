"""Measuring a photo where it was marked, and proposing marks for the next one."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from apps.corals.colour_models import CORAL, REFERENCE, PhotoColour, read_regions
from apps.corals.models import Photo
from apps.corals.photo_cleaning import codes_of, thumbnail_codes
from apps.photics.colour.alignment import align
from apps.photics.colour.coral_colour import measure
from apps.photics.ground.regions import Region


@dataclass(frozen=True)
class Marks:
    """What is marked on a photo; of a proposal also the day whose marks it took."""

    reference: Region | None
    regions: tuple[Region, ...]
    reference_kind: str = str(PhotoColour.ReferenceKind.WHITE)
    light: str = str(PhotoColour.Light.WHITE)
    from_day: dt.date | None = None
    aligned: bool = False


def mark_photo(*, photo: Photo, **marks: Any) -> PhotoColour:
    """Measure a Photo at its marks, as `measure_photo`, and keep what came of it."""
    return keep_colour(photo=photo, values=measure_photo(photo=photo, **marks))


def measure_photo(
    *,
    photo: Photo,
    reference: Region | None,
    regions: Sequence[Region],
    reference_kind: str,
    light: str,
) -> dict[str, Any]:
    """Measure a Photo at its marks; returns the values of its PhotoColour, for `keep_colour`.

    It decodes the whole photo: on SQLite, everybody's save would wait for it in a transaction.
    """
    codes, space = codes_of(photo)
    result = measure(
        codes,
        space=space,
        reference=reference,
        regions=regions,
        reference_kind=reference_kind,
        light=light,
    )
    lab = [None, None, None] if result.lab is None else [float(value) for value in result.lab]
    card = result.card
    return {
        "reference_kind": reference_kind,
        "light": light,
        "marks": marks_of(reference, regions),
        **dict(zip(("lightness", "a_star", "b_star"), lab, strict=True)),
        "covariance": [] if result.covariance is None else result.covariance.ravel().tolist(),
        "card_error": {}
        if card is None
        else {
            "left": card.left.round(3).ravel().tolist(),
            "covariance": card.covariance.ravel().tolist(),
        },
        "problem_keys": [problem.key for problem in result.problems],
    }


@transaction.atomic
def keep_colour(*, photo: Photo, values: Mapping[str, Any]) -> PhotoColour:
    """Keep what `measure_photo` returned of a Photo; returns the PhotoColour.

    Marking anew replaces what was marked before, and brings back what was taken away.
    """
    colour = PhotoColour.objects.filter(photo=photo).first() or PhotoColour(photo=photo)
    for name, value in values.items():
        setattr(colour, name, value)
    colour.answer, colour.removed_at = PhotoColour.Answer.NONE, None
    colour.full_clean()
    colour.save()
    return colour


def answer_colour(*, photo: Photo, answer: str) -> None:
    """Keep whether the keeper saw the change of colour that a photo tells."""
    PhotoColour.objects.present().filter(photo=photo).update(answer=answer)


def marks_of(reference: Region | None, regions: Sequence[Region]) -> list[dict[str, object]]:
    """Return marks as they are stored."""
    marked = [] if reference is None else [(REFERENCE, reference)]
    marked += [(CORAL, region) for region in regions]
    return [
        {"role": role, "shape": region.shape, "points": [list(point) for point in region.points]}
        for role, region in marked
    ]


def kept_marks(colour: PhotoColour) -> Marks:
    """Return the Marks of a PhotoColour."""
    result = read_regions(colour.marks)
    return Marks(
        reference=next(iter(result[REFERENCE]), None),
        regions=tuple(result[CORAL]),
        reference_kind=colour.reference_kind,
        light=colour.light,
    )


def proposed_marks(photo: Photo) -> Marks:
    """Return the Marks a new photo may have: those of the nearest photo marked, moved along.

    Where the two photos can't be laid on each other, the marks stay where they were in the frame.
    """
    earlier = nearest_marked(photo)
    if earlier is None:
        return Marks(None, ())
    marks = kept_marks(earlier)
    alignment = align(thumbnail_codes(earlier.photo), thumbnail_codes(photo))
    reference, regions = marks.reference, marks.regions
    if marks.reference_kind == PhotoColour.ReferenceKind.CARD:
        # A hand holds the card elsewhere each time; the coral stays.
        reference = None
    if alignment.sure:
        reference = None if reference is None else reference.moved(alignment.transform)
        regions = tuple(region.moved(alignment.transform) for region in regions)
    return Marks(
        reference=reference,
        regions=regions,
        reference_kind=marks.reference_kind,
        light=marks.light,
        from_day=earlier.photo.note.noted_on,
        aligned=alignment.sure,
    )


def nearest_marked(photo: Photo) -> PhotoColour | None:
    """Return the PhotoColour of the same coral nearest in time to a photo, or None."""
    day = photo.note.noted_on
    marked = PhotoColour.objects.of_coral(photo.note.coral).exclude(photo=photo)
    return min(
        marked, key=lambda colour: abs((colour.photo.note.noted_on - day).days), default=None
    )
