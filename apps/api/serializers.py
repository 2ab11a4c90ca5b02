"""What each row looks like in JSON. Bad rows get the same sentences as in the forms."""

from rest_framework import serializers

from apps.common.validation import WholeModelSerializer
from apps.corals.models import Coral, HealthNote, Spot
from apps.lighting.models import LightChange
from apps.surveys.models import Meter
from apps.tanks.models import Rock, Tank


class TankSerializer(WholeModelSerializer):
    owner = serializers.CharField(source="owner.shown_name", read_only=True)
    role = serializers.CharField(source="role_of_reader", read_only=True)

    class Meta:
        model = Tank
        fields = [
            "id", "name", "length_cm", "width_cm", "depth_cm", "back_pane", "bottom",
            "time_zone", "owner", "role", "created_at",
        ]  # fmt: skip
        read_only_fields = ["created_at"]


class RockSerializer(WholeModelSerializer):
    class Meta:
        model = Rock
        fields = [
            "id", "name", "x_cm", "y_cm", "depth_cm", "length_cm", "width_cm", "height_cm",
        ]  # fmt: skip


class LightChangeSerializer(WholeModelSerializer):
    class Meta:
        model = LightChange
        fields = ["id", "happened_at", "summary", "factor", "day_hours", "ramp_hours", "created_at"]
        read_only_fields = ["created_at"]


class MeterSerializer(WholeModelSerializer):
    class Meta:
        model = Meter
        fields = ["id", "label", "kind", "correction_factor"]


class CoralSerializer(WholeModelSerializer):
    class Meta:
        model = Coral
        fields = [
            "id", "name", "group", "genus", "band_low_umol", "band_high_umol", "added_on",
            "gone_on", "created_at",
        ]  # fmt: skip
        read_only_fields = ["created_at"]


class SpotSerializer(WholeModelSerializer):
    class Meta:
        model = Spot
        fields = ["id", "x_cm", "y_cm", "depth_cm", "since"]


class HealthNoteSerializer(WholeModelSerializer):
    class Meta:
        model = HealthNote
        fields = ["id", "noted_on", "seen", "strength", "text", "created_at"]
        read_only_fields = ["created_at"]
