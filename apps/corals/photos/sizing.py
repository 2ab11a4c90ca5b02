"""Sizes of corals: kept from a photo's marks, and shown as growth."""

from dataclasses import dataclass

from django.db import transaction

from apps.corals.colour_models import CoralSize
from apps.corals.models import Coral, Photo
from apps.photics.colour.growth import CALIPERS_SD, PHOTO_SD, SIZES_MIN, Growth, growth


@transaction.atomic
def keep_size(
    *, photo: Photo, diameter_cm: float, area_cm2: float | None, marks: dict[str, object]
) -> CoralSize:
    """Keep the size a Photo shows, in place of one kept before; returns the CoralSize."""
    size = CoralSize.objects.filter(photo=photo).first() or CoralSize(photo=photo)
    size.coral, size.measured_on = photo.note.coral, photo.note.noted_on
    size.method, size.marks = CoralSize.Method.PHOTO, marks
    size.diameter_cm, size.area_cm2, size.removed_at = diameter_cm, area_cm2, None
    size.full_clean()
    size.save()
    return size


@dataclass(frozen=True)
class GrowthStory:
    """A coral's sizes, newest first, and what they say of its growth, in words."""

    sizes: tuple[CoralSize, ...]
    growth: Growth | None
    of: str
    words: str


def growth_story(coral: Coral) -> GrowthStory:
    """Return the GrowthStory of a coral: by area when enough photos tell it, else by diameter."""
    sizes = list(CoralSize.objects.of_coral(coral))
    areas = [size for size in sizes if size.area_cm2 is not None]
    # An area has more points under it than one widest line; calipers give no area.
    by_area = len({size.measured_on for size in areas}) >= SIZES_MIN and len(areas) == len(sizes)
    used = areas if by_area else sizes
    result = None
    if used:
        start = used[0].measured_on
        result = growth(
            [(size.measured_on - start).days for size in used],
            [size.area_cm2 if by_area else size.diameter_cm for size in used],
            # An area is a length squared: its log strays twice as far.
            sd_log=[sd_of(size) * (2.0 if by_area else 1.0) for size in used],
        )
    of = "area" if by_area else "diameter"
    return GrowthStory(tuple(reversed(sizes)), result, of, growth_words(result, of, len(sizes)))


def sd_of(size: CoralSize) -> float:
    """Return the deviation of the log of a size's length [1]."""
    if size.method == CoralSize.Method.CALIPERS:
        return CALIPERS_SD
    return size.marks.get("sd_log", PHOTO_SD)


def growth_words(rate: Growth | None, of: str, count: int) -> str:
    """Say how fast a coral grows, or why that can't be said."""
    if rate is None:
        if not count:
            return "No size yet."
        return f"Sizes of {SIZES_MIN} different days are needed to tell growth."
    factors = (rate.low, rate.factor, rate.high)
    low, middle, high = (percent_words(factor) for factor in factors)
    if not rate.sure:
        return (
            f"Growth can’t be told from standing still yet: its {of} changes by {middle} a month, "
            f"somewhere from {low} to {high}."
        )
    verb = "grows" if rate.factor > 1 else "shrinks"
    return f"Its {of} {verb}: {middle} a month, somewhere from {low} to {high}."


def percent_words(factor: float) -> str:
    """Return a factor as a change in percent with its sign: +4 %, −1.5 %."""
    percent = 100.0 * (factor - 1.0)
    digits = f"{abs(percent):.0f}" if abs(percent) >= 10 else f"{abs(percent):.1f}"
    return f"{'−' if percent < 0 else '+'}{digits}\u00a0%"
