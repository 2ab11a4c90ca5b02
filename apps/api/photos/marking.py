"""Marks on a photo in JSON, read by the form of its page: shapes in shares of width and height."""

from rest_framework import serializers

from apps.api.serializers import CoralSizeSerializer, PhotoColourSerializer
from apps.common.programs.serializers import PlainFloatField, RefusesUnknown
from apps.corals.models import CoralSize, Photo, PhotoColour
from apps.corals.photos.colouring import Marks, kept_marks, proposed_marks
from apps.corals.photos.forms import MarkForm
from apps.corals.photos.marking import save_marks
from apps.corals.photos.marks import points_text, region_text
from apps.photics import limits
from apps.photics.ground.lengths import CM
from apps.photics.ground.regions import BOX, ELLIPSE, OUTLINE, Region

SHAPES = [(BOX, "box"), (ELLIPSE, "ellipse"), (OUTLINE, "outline")]
ANSWERS = [
    (answer.value, answer.label) for answer in (PhotoColour.Answer.SEEN, PhotoColour.Answer.NOT_SO)
]
CARD = {
    "reference_kind": "white", "light": "white",
    "reference": {"shape": "box", "points": [[0.08, 0.58], [0.24, 0.82]]},
    "regions": [{"shape": "ellipse", "points": [[0.45, 0.38], [0.71, 0.74]]}],
}  # fmt: skip


def point() -> serializers.ListField:
    """Return the field of a point: across and down, in shares of the photo."""
    share = PlainFloatField(min_value=0, max_value=1)
    return serializers.ListField(child=share, min_length=2, max_length=2)


class RegionSerializer(RefusesUnknown, serializers.Serializer):
    """A shape on a photo. A box or an ellipse has two corners, an outline its corners in order."""

    shape = serializers.ChoiceField(SHAPES)
    points = serializers.ListField(
        child=point(),
        min_length=2,
        max_length=limits.OUTLINE_POINTS_MAX,
        help_text="Across and down, from 0 to 1 of the photo.",
    )

    def validate(self, attrs: dict) -> dict:
        points = tuple((x, y) for x, y in attrs["points"])
        try:
            return {"region": Region(attrs["shape"], points)}
        except ValueError as problem:
            raise serializers.ValidationError({"points": [str(problem)]}) from None


class MarksSerializer(RefusesUnknown, serializers.Serializer):
    """What is marked on a photo."""

    reference_kind = serializers.ChoiceField(PhotoColour.ReferenceKind.choices)
    light = serializers.ChoiceField(PhotoColour.Light.choices)
    reference = RegionSerializer(
        required=False,
        allow_null=True,
        help_text="For our colour card: an outline through the centres of its four rings.",
    )
    regions = RegionSerializer(
        many=True,
        required=False,
        max_length=limits.REGIONS_MAX - 1,
        help_text="The parts of the coral whose colour is measured.",
    )
    whole = RegionSerializer(
        required=False, allow_null=True, help_text="The outline of the whole coral, for its size."
    )
    scale = serializers.ListField(
        child=point(),
        min_length=2,
        max_length=2,
        required=False,
        allow_null=True,
        help_text="The two ends of something whose length is known.",
    )
    scale_cm = PlainFloatField(
        required=False,
        allow_null=True,
        min_value=limits.SCALE_MIN_CM,
        max_value=limits.SCALE_MAX_CM,
        help_text="How long that is.",
    )

    def validate(self, attrs: dict) -> dict:
        """Have the form of the page read it, in cm."""
        data = {name: attrs[name] for name in ("reference_kind", "light")}
        for name in ("reference", "whole"):
            if attrs.get(name):
                data[name] = region_text(attrs[name]["region"])
        regions = [region_text(one["region"]) for one in attrs.get("regions", ())]
        data["regions"] = "\n".join(regions)
        if attrs.get("scale"):
            data["scale"] = points_text(attrs["scale"])
        if attrs.get("scale_cm") is not None:
            data["scale_cm"] = repr(attrs["scale_cm"])
        form = MarkForm(data, unit=CM)
        if not form.is_valid():
            raise serializers.ValidationError(messages_of(form))
        return {"form": form}


class ColourAnswerSerializer(RefusesUnknown, serializers.Serializer):
    """Whether a change of colour is real."""

    answer = serializers.ChoiceField(ANSWERS)


class ShapeSerializer(serializers.Serializer):
    """A shape on a photo."""

    shape = serializers.ChoiceField(SHAPES)
    points = serializers.ListField(
        child=serializers.ListField(child=serializers.FloatField()),
        help_text="Across and down, from 0 to 1 of the photo.",
    )


class PhotoMarksSerializer(serializers.Serializer):
    """What is marked on a photo, and what was measured there."""

    is_proposal = serializers.BooleanField(help_text="Nothing is marked yet; you may mark this.")
    reference_kind = serializers.ChoiceField(PhotoColour.ReferenceKind.choices, allow_null=True)
    light = serializers.ChoiceField(PhotoColour.Light.choices, allow_null=True)
    reference = ShapeSerializer(allow_null=True)
    regions = ShapeSerializer(many=True)
    whole = ShapeSerializer(allow_null=True, help_text="The outline of the whole coral.")
    scale = serializers.ListField(
        child=serializers.ListField(child=serializers.FloatField()), allow_null=True
    )
    scale_cm = serializers.FloatField(allow_null=True)
    colour = PhotoColourSerializer(allow_null=True)
    size = CoralSizeSerializer(allow_null=True)


def messages_of(form: MarkForm) -> dict[str, list[str]]:
    return {name: list(texts) for name, texts in form.errors.items()}


def keep_marks(form: MarkForm, photo: Photo) -> None:
    """Measure and keep what a valid form marks, or refuse it as its page does."""
    if not save_marks(form, photo):
        raise serializers.ValidationError(messages_of(form))


def marks_of_photo(photo: Photo, *, proposes: bool) -> dict[str, object]:
    """Return the marks of a photo as they are answered; those proposed where none are kept."""
    colour = PhotoColour.objects.present().filter(photo=photo).first()
    size = CoralSize.objects.present().filter(photo=photo).first()
    marks = kept_marks(colour) if colour else None
    is_proposal = marks is None and proposes
    if is_proposal:
        marks = proposed_marks(photo)
    row = {"is_proposal": is_proposal, "colour": colour, "size": size}
    return dict(PhotoMarksSerializer(row | colour_row(marks) | size_row(size)).data)


def colour_row(marks: Marks | None) -> dict[str, object]:
    """Return what is marked of the colour, by name."""
    if marks is None:
        return {"reference_kind": None, "light": None, "reference": None, "regions": []}
    return {
        "reference_kind": marks.reference_kind,
        "light": marks.light,
        "reference": marks.reference,
        "regions": marks.regions,
    }


def size_row(size: CoralSize | None) -> dict[str, object]:
    """Return what is marked of the size, by name."""
    marks = size.marks if size else {}
    if not marks:
        return {"whole": None, "scale": None, "scale_cm": None}
    whole = {"shape": marks.get("shape", OUTLINE), "points": marks["outline"]}
    return {"whole": whole, "scale": marks["scale"], "scale_cm": marks["scale_cm"]}
