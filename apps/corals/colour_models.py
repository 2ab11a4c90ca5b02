"""What photos tell of a coral: its colour where it was marked, and its size."""

import numpy as np
from django.core.exceptions import ValidationError
from django.db import models

from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import bounds, bounds_check, too_early, year_check
from apps.photics import limits
from apps.photics.colour.colour_card import CardError
from apps.photics.colour.looks import ComparedColour
from apps.photics.colour.problems import PROBLEMS
from apps.photics.ground.regions import BOX, ELLIPSE, OUTLINE, Region

LENGTH = (limits.CORAL_SIZE_MIN_CM, limits.CORAL_SIZE_MAX_CM)
AREA = (limits.CORAL_AREA_MIN_CM2, limits.CORAL_AREA_MAX_CM2)
LAB_FIELDS = ("lightness", "a_star", "b_star")
REFERENCE, CORAL = "reference", "coral"


def read_regions(marks):
    """Return the photics Regions of marks as stored, by role; raises ValidationError."""
    if not isinstance(marks, list) or len(marks) > limits.REGIONS_MAX:
        raise ValidationError(f"At most {limits.REGIONS_MAX} marks, please.")
    result = {REFERENCE: [], CORAL: []}
    for mark in marks:
        try:
            role, region = mark["role"], read_region(mark["shape"], mark["points"])
            result[role].append(region)
        except (KeyError, TypeError, ValueError):
            raise ValidationError("A mark can’t be read.") from None
    if len(result[REFERENCE]) > 1:
        raise ValidationError("Mark one reference only.")
    return result


def read_region(shape, points):
    """Return the Region of a shape and its points as shares; raises ValueError or TypeError."""
    if shape not in (BOX, ELLIPSE, OUTLINE) or not 2 <= len(points) <= limits.OUTLINE_POINTS_MAX:
        raise ValueError("not a shape")
    places = tuple((float(x), float(y)) for x, y in points)
    if not all(0.0 <= value <= 1.0 for place in places for value in place):
        raise ValueError("outside the photo")
    return Region(shape, places)


class PhotoColourQuerySet(RemovableQuerySet):
    def of_coral(self, coral):
        """The colours kept with a coral's present notes, oldest first."""
        return self.of_corals([coral])

    def of_corals(self, corals):
        """The colours kept with present notes of some corals, oldest first."""
        result = self.present().filter(photo__note__coral__in=corals, photo__note__removed_at=None)
        return result.select_related("photo__note").order_by("photo__note__noted_on", "photo_id")


class PhotoColour(Removable):
    """The colour of the coral in one photo: what was marked, and what came of it."""

    FOLLOWED = "id"

    class ReferenceKind(models.TextChoices):
        WHITE = "white", "a white card or slate"
        GREY = "grey", "a photographer’s grey card"
        OBJECT = "object", "something that keeps its colour, the same each time"
        CARD = "card", "our printed colour card"

    class Light(models.TextChoices):
        WHITE = "white", "white light only"
        MIXED = "mixed", "the usual mix of white and blue"
        BLUE = "blue", "blue light"

    class Answer(models.TextChoices):
        NONE = "", "not asked"
        SEEN = "seen", "the keeper saw it too"
        NOT_SO = "not_so", "the keeper did not"

    photo = models.OneToOneField("corals.Photo", on_delete=models.CASCADE, related_name="colour")
    reference_kind = models.CharField("the reference is", max_length=6, choices=ReferenceKind)
    light = models.CharField("the light was", max_length=5, choices=Light)
    # [{"role": "reference" or "coral", "shape": ..., "points": [[x, y], ...]}] in shares.
    marks = models.JSONField(default=list)
    # CIELAB under D65; null where the photo can't be measured.
    lightness = models.FloatField(null=True, blank=True)
    a_star = models.FloatField(null=True, blank=True)
    b_star = models.FloatField(null=True, blank=True)
    # Covariance of the three, row by row.
    covariance = models.JSONField(default=list, blank=True)
    # With the printed card: {"left": what of each patch is left over, "covariance": the card's
    # part of the covariance}, both CIELAB, row by row.
    card_error = models.JSONField(default=dict, blank=True)
    # Keys of photics.colour.problems.PROBLEMS.
    problem_keys = models.JSONField(default=list, blank=True)
    # What the keeper said when asked whether a change of colour is real.
    answer = models.CharField(max_length=6, choices=Answer, default=Answer.NONE, blank=True)
    measured_at = models.DateTimeField(auto_now=True)

    objects = PhotoColourQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [bounds_check("photocolour", "lightness", -20, 200, null=True)]

    def __str__(self):
        return f"colour of {self.photo}"

    def clean(self):
        read_regions(self.marks)
        known = [getattr(self, name) is not None for name in LAB_FIELDS]
        if any(known) != all(known) or (all(known) and len(self.covariance) != 9):
            raise ValidationError("A colour has three numbers and what they are worth.")
        if self.card_error and set(self.card_error) != {"left", "covariance"}:
            raise ValidationError("A card’s error has what is left of its patches, and its part.")

    @property
    def lab(self):
        """CIELAB (3,), or None."""
        values = [getattr(self, name) for name in LAB_FIELDS]
        return None if None in values else np.array(values)

    @property
    def lab_covariance(self):
        return np.array(self.covariance, float).reshape(3, 3)

    @property
    def compared(self):
        """The colour as photics compares it with another of its series; it must be measured."""
        card = self.card_error and CardError(
            np.array(self.card_error["left"], float).reshape(-1, 3),
            np.array(self.card_error["covariance"], float).reshape(3, 3),
        )
        return ComparedColour(
            self.lab, self.lab_covariance, self.reference_kind, self.light, card or None
        )

    @property
    def card_off(self):
        """How far the card's patches stay off what they should be, or None without the card.

        The root mean square of their distances [CIELAB].
        """
        if not self.card_error:
            return None
        left = np.array(self.card_error["left"], float).reshape(-1, 3)
        return float(np.sqrt((left**2).sum(-1).mean()))

    def same_camera(self, other):
        """Tell whether one camera in one mode took both photos; None where that is not known."""
        marks = (self.photo.camera_mark, other.photo.camera_mark)
        return marks[0] == marks[1] if all(marks) else None

    @property
    def problems(self):
        return tuple(PROBLEMS[key] for key in self.problem_keys)

    @property
    def series(self):
        """What must be the same for two colours to be compared."""
        return (self.reference_kind, self.light)


class CoralSizeQuerySet(RemovableQuerySet):
    def of_coral(self, coral):
        return self.present().filter(coral=coral).order_by("measured_on", "pk")


class CoralSize(Removable):
    """How large a coral was on a day: by calipers, or by a known length in a photo."""

    FOLLOWED = "id"

    class Method(models.TextChoices):
        CALIPERS = "calipers", "calipers or a ruler"
        PHOTO = "photo", "a known length in a photo"

    coral = models.ForeignKey("corals.Coral", on_delete=models.CASCADE, related_name="sizes")
    # The photo it was read from, while that is kept.
    photo = models.OneToOneField(
        "corals.Photo", null=True, blank=True, on_delete=models.SET_NULL, related_name="size"
    )
    measured_on = models.DateField("when")
    method = models.CharField(max_length=8, choices=Method, default=Method.CALIPERS)
    diameter_cm = models.FloatField("across, at its widest", validators=bounds(*LENGTH))
    area_cm2 = models.FloatField(
        "area seen from there", null=True, blank=True, validators=bounds(*AREA)
    )
    # {"outline": [[x, y], ...], "scale": [[x, y], [x, y]], "scale_cm": ...}, shares of the photo.
    marks = models.JSONField(default=dict, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = CoralSizeQuerySet.as_manager()

    class Meta:
        ordering = ["measured_on", "pk"]
        constraints = [
            bounds_check("coralsize", "diameter_cm", *LENGTH),
            bounds_check("coralsize", "area_cm2", *AREA, null=True),
            year_check("coralsize", "measured_on"),
        ]

    def __str__(self):
        return f"{self.coral} {self.measured_on}: {self.diameter_cm:g} cm"

    def clean(self):
        errors = too_early(measured_on=self.measured_on)
        if self.measured_on and self.measured_on > self.coral.tank.today():
            errors["measured_on"] = "This is in the future."
        if errors:
            raise ValidationError(errors)
