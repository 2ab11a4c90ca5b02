"""A survey's plan in JSON: where the sensor is to be held, and the pattern that lays it out."""

from rest_framework import serializers

from apps.common.programs.serializers import PlainFloatField, RefusesUnknown
from apps.photics.ground.lengths import CM
from apps.surveys.plan.forms import COUNT_MOST, DEPTHS_MOST, SIDE_MOST, PlanForm
from apps.surveys.plan.patterns import Place

# What the form of the page calls otherwise.
FORM_NAMES = {"gap_cm": "gap", "depths_cm": "depths", "planned_before": "how"}
API_NAMES = {form: api for api, form in FORM_NAMES.items()}
PATTERNS = [
    (PlanForm.GRID, "a grid at depths"),
    (PlanForm.RING, "a ring round the rock"),
    (PlanForm.FRONT, "along the front"),
    (PlanForm.CORALS, "the corals’ spots"),
    (PlanForm.SUGGESTED, "where the last map is least sure"),
]


class PlannedPointSerializer(serializers.Serializer):
    """A planned point [cm]: a reading taken with its `client_id` is the reading of this point."""

    number = serializers.IntegerField()
    x_cm = serializers.FloatField()
    y_cm = serializers.FloatField()
    depth_cm = serializers.FloatField()
    words = serializers.CharField(help_text="What it is for, such as a coral’s name.")
    client_id = serializers.UUIDField()
    is_read = serializers.SerializerMethodField(help_text="It has a reading.")

    def get_is_read(self, point: object) -> bool:
        return getattr(point, "reading", None) is not None


class ProposedPointSerializer(serializers.Serializer):
    """A point that a pattern gives [cm]."""

    x_cm = serializers.FloatField()
    y_cm = serializers.FloatField()
    depth_cm = serializers.FloatField()
    words = serializers.CharField(help_text="What it is for, such as a coral’s name.")


class WishesSerializer(serializers.Serializer):
    """The pattern that the points were last laid out by."""

    pattern = serializers.ChoiceField(PATTERNS)
    nx = serializers.IntegerField(required=False)
    ny = serializers.IntegerField(required=False)
    count = serializers.IntegerField(required=False)
    gap_cm = serializers.FloatField(required=False)
    depths_cm = serializers.ListField(child=serializers.FloatField(), required=False)


class SurveyPlanSerializer(serializers.Serializer):
    """A survey's plan: its points in the order of reading."""

    points = PlannedPointSerializer(many=True)
    laid_out_by = WishesSerializer(allow_null=True, help_text="Null if no pattern was used.")


class LaidOutSerializer(SurveyPlanSerializer):
    """A plan as it stands once a pattern was laid out."""

    new = serializers.IntegerField(help_text="How many points are new.")
    left_out = serializers.CharField(help_text="What was left out and why; empty if nothing.")


class ProposalSerializer(serializers.Serializer):
    """The points that a pattern would give."""

    points = ProposedPointSerializer(many=True)
    left_out = serializers.CharField(help_text="What is left out and why; empty if nothing.")


class PatternSerializer(RefusesUnknown, serializers.Serializer):
    """A pattern of points, and what it needs: a grid `nx`, `ny` and `depths_cm`; a ring and a
    row along the front `count`, `gap_cm` and `depths_cm`; suggested points `count`.
    """

    pattern = serializers.ChoiceField(PATTERNS)
    nx = serializers.IntegerField(
        required=False, min_value=1, max_value=SIDE_MOST, help_text="Points from left to right."
    )
    ny = serializers.IntegerField(
        required=False, min_value=1, max_value=SIDE_MOST, help_text="Points from front to back."
    )
    count = serializers.IntegerField(
        required=False, min_value=1, max_value=COUNT_MOST, help_text="Points at each depth."
    )
    gap_cm = PlainFloatField(
        required=False, min_value=0, help_text="Distance from the rock or the front pane."
    )
    depths_cm = serializers.ListField(
        child=PlainFloatField(min_value=0),
        required=False,
        allow_empty=False,
        max_length=DEPTHS_MOST,
        help_text="Below the surface.",
    )
    planned_before = serializers.ChoiceField(
        [(PlanForm.REPLACE, "replace those not read yet"), (PlanForm.ADD, "keep them")],
        required=False,
        help_text="What happens to points planned before; they are replaced if left out. "
        "Points with a reading keep their numbers and stay.",
    )

    def validate(self, attrs: dict) -> dict:
        """Have the form of the page read it, in cm."""
        data = {FORM_NAMES.get(name, name): value for name, value in attrs.items()}
        if "depths" in data:
            data["depths"] = "; ".join(f"{depth!r}" for depth in data["depths"])
        form = PlanForm(data, tank=self.context["survey"].tank, unit=CM)
        places, sentence = form.places() if form.is_valid() else ([], "")
        if form.is_valid() and not places:
            form.add_error("pattern", sentence or "That gives no points.")
        if form.errors:
            errors = {API_NAMES.get(name, name): list(texts) for name, texts in form.errors.items()}
            raise serializers.ValidationError(errors)
        return {"form": form, "places": places, "left_out": sentence}


def wishes_of(stored: dict) -> dict | None:
    """Return the pattern a survey's points were laid out by, by the names of an answer."""
    return {API_NAMES.get(n, n): value for n, value in stored.items() if n != "how"} or None


def place_rows(places: list[Place]) -> list[dict[str, object]]:
    """Return Places as they are answered."""
    return [place.numbers() | {"words": place.words} for place in places]
