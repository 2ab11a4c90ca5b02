"""What a keeper marks on a photo, measured and kept: by its page and by programs."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from apps.common.serving.row_locks import hold_row
from apps.corals.models import Photo
from apps.corals.photos.colouring import keep_colour, measure_photo
from apps.corals.photos.forms import MarkForm
from apps.corals.photos.sizing import keep_size

COLOUR_MARKS = ("reference", "regions", "reference_kind", "light")


def save_marks(form: MarkForm, photo: Photo) -> bool:
    """Measure and keep what a valid form marks; False, with the reason added, if it can't be."""
    width_px, height_px = photo.size_px()
    try:
        size = form.size(width_px=width_px, height_px=height_px)
    except ValueError as problem:
        form.add_error("scale", str(problem))
        return False
    # Before any row is locked: a large photo takes a while.
    given = {name: form.cleaned_data[name] for name in COLOUR_MARKS}
    colour = measure_photo(photo=photo, **given) if form.marks_colour else None
    return keep_measured(form, photo, size, colour)


@transaction.atomic
def keep_measured(
    form: MarkForm,
    photo: Photo,
    size: tuple[float, float | None, dict[str, object]] | None,
    colour: Mapping[str, Any] | None,
) -> bool:
    """Keep the size and the colour measured in a photo, or neither, as `save_marks` does."""
    # Held: deleted meanwhile, nothing is kept of it.
    hold_row(Photo.objects, photo.pk)
    if size is not None:
        diameter_cm, area_cm2, marks = size
        try:
            keep_size(photo=photo, diameter_cm=diameter_cm, area_cm2=area_cm2, marks=marks)
        except ValidationError:
            form.add_error("scale_cm", f"The coral would be {diameter_cm:.3g}\u00a0cm across.")
            return False
    if colour is not None:
        keep_colour(photo=photo, values=colour)
    return True
