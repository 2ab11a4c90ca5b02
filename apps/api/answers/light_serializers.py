"""The light of a tank in JSON: what is asked of it, and its answers."""

from rest_framework import serializers

from apps.common.programs.serializers import PlainFloatField, RefusesUnknown

# Spots of one call: what a long line of an address holds, and what a body may.
ADDRESS_POINTS_MAX = 100
POINTS_MAX = 5000
# Nodes of one plane; a finer one is refused with the step that would do.
PLANE_NODES_MAX = 10_000
STEP_MIN_CM = 0.5


class PointSerializer(RefusesUnknown, serializers.Serializer):
    """A spot in the tank [cm]."""

    x_cm = PlainFloatField()
    y_cm = PlainFloatField()
    depth_cm = PlainFloatField()


class PointsAskedSerializer(RefusesUnknown, serializers.Serializer):
    """Spots, and the moment of their light."""

    at = serializers.DateTimeField(
        required=False, help_text="Now where it is left out; without an offset, the tank's clock."
    )
    points = PointSerializer(many=True, max_length=POINTS_MAX)


class RestsOnSerializer(serializers.Serializer):
    """What the light of a moment rests on."""

    survey = serializers.IntegerField(
        source="survey_id", allow_null=True, help_text="Null: stated outputs of the fixtures only."
    )
    surveyed_at = serializers.DateTimeField(allow_null=True)
    changes_since = serializers.IntegerField()
    measured_later = serializers.BooleanField(help_text="The survey came after this moment.")
    predicted_since = serializers.DateTimeField(
        allow_null=True, help_text="From when on the light is forecast over logged changes."
    )
    measured = serializers.BooleanField()


class LitPointSerializer(PointSerializer):
    """The light of one spot at the day's peak; null in rock, outside the panes or where unknown."""

    par_umol = serializers.FloatField(allow_null=True)
    low_umol = serializers.FloatField(allow_null=True, help_text="Lower end of the 90 % interval.")
    high_umol = serializers.FloatField(allow_null=True)
    dli_mol = serializers.FloatField(
        allow_null=True, help_text="Daily light; null where no day schedule is logged."
    )
    beyond_readings = serializers.BooleanField(
        allow_null=True, help_text="The spot lies beyond the readings: an estimate."
    )


class TankLightSerializer(serializers.Serializer):
    """The light of spots at one moment, and what it rests on; null where nothing is known."""

    at = serializers.DateTimeField()
    rests_on = RestsOnSerializer(allow_null=True)
    points = LitPointSerializer(many=True)


class PlaneSerializer(serializers.Serializer):
    """A plane through the tank: `par_umol[row][column]`, null in rock and outside the panes."""

    at = serializers.DateTimeField()
    rests_on = RestsOnSerializer(allow_null=True)
    across = serializers.ChoiceField(("x_cm", "y_cm"), help_text="What the columns run along.")
    down = serializers.ChoiceField(("y_cm", "depth_cm"), help_text="What the rows run along.")
    cut = serializers.ChoiceField(("x_cm", "y_cm", "depth_cm"), help_text="What is held.")
    cut_at_cm = serializers.FloatField()
    columns_cm = serializers.ListField(child=serializers.FloatField())
    rows_cm = serializers.ListField(child=serializers.FloatField())
    par_umol = serializers.ListField(
        child=serializers.ListField(child=serializers.FloatField(allow_null=True))
    )
    low_umol = serializers.ListField(
        child=serializers.ListField(child=serializers.FloatField(allow_null=True))
    )
    high_umol = serializers.ListField(
        child=serializers.ListField(child=serializers.FloatField(allow_null=True))
    )


class PlaneAskedSerializer(RefusesUnknown, serializers.Serializer):
    """Where to cut, how finely, and when."""

    at = serializers.DateTimeField(required=False)
    x_cm = PlainFloatField(required=False)
    y_cm = PlainFloatField(required=False)
    depth_cm = PlainFloatField(required=False)
    step_cm = PlainFloatField(required=False, min_value=STEP_MIN_CM)

    def validate(self, attrs: dict) -> dict:
        if sum(name in attrs for name in ("x_cm", "y_cm", "depth_cm")) > 1:
            raise serializers.ValidationError("Cut at one of x_cm, y_cm and depth_cm.")
        return attrs
