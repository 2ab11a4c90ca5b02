"""A tank in JSON, and what is said of its end."""

from django.db import transaction
from rest_framework import serializers

from apps.common.programs.serializers import RefusesUnknown, WholeModelSerializer
from apps.tanks.ending.ending import successors_of
from apps.tanks.models import Tank
from apps.tanks.rezoning import ASK, Means, has_moments, rezone, rezoning_errors


class TankSerializer(WholeModelSerializer):
    """A tank: its water's measures [cm], its panes and its clock."""

    owner = serializers.CharField(source="owner.shown_name", read_only=True)
    role = serializers.CharField(source="role_of_reader", read_only=True)
    # What another time zone means for the entries there are; asked for where it is changed.
    zone_means = serializers.ChoiceField(Means.choices, required=False, write_only=True)
    moved_at = serializers.DateTimeField(required=False, write_only=True)

    class Meta:
        model = Tank
        fields = [
            "id", "name", "length_cm", "width_cm", "depth_cm", "back_pane", "bottom",
            "shape", "bow_cm", "outline_cm", "braces", "cover_transmission", "window_side",
            "window_par_umol", "time_zone", "zone_means", "moved_at", "ended_on", "owner", "role",
            "created_at",
        ]  # fmt: skip
        read_only_fields = ["created_at", "ended_on"]

    def validate(self, attrs):
        means, moved_at = attrs.pop("zone_means", None), attrs.pop("moved_at", None)
        attrs = super().validate(attrs)
        name, stored = attrs.get("time_zone"), self.instance
        self.rezoning = None
        if stored is None or name in (None, stored.time_zone) or not has_moments(stored):
            return attrs
        if means is None:
            raise serializers.ValidationError({"zone_means": [ASK]})
        if errors := rezoning_errors(stored, name, means, moved_at):
            raise serializers.ValidationError({field: [text] for field, text in errors.items()})
        self.rezoning = {"name": name, "means": means, "moved_at": moved_at}
        return attrs

    @transaction.atomic
    def update(self, instance, validated_data):
        if self.rezoning:
            rezone(tank=instance, **self.rezoning)
            instance.refresh_from_db(fields=["time_zone", "earlier_zones"])
        return super().update(instance, validated_data)


class EndSerializer(RefusesUnknown, serializers.Serializer):
    """When a tank ended, and where what lives in it went."""

    ended_on = serializers.DateField(help_text="Today by the tank’s time zone, or earlier.")
    successor = serializers.PrimaryKeyRelatedField(
        queryset=Tank.objects.none(),
        required=False,
        allow_null=True,
        help_text="A running tank that you may change: the living corals move there on "
        "that day, without a spot.",
    )

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        if tank := self.context.get("tank"):
            user = self.context["request"].user
            fields["successor"].queryset = successors_of(tank, user)
        return fields
