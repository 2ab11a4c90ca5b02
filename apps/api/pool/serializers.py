"""Which tanks count among others, in JSON."""

from rest_framework import serializers

from apps.common.programs.serializers import RefusesUnknown
from apps.tanks.models import Tank

# More than any keeper has.
TANKS_MAX = 1000
NOT_AMONG_ALL = "Only tanks of yours that count among all others may count in a club."


class TankPoolSerializer(serializers.Serializer):
    """Whether a tank counts in what all such tanks show together."""

    counts = serializers.BooleanField()
    agreed_at = serializers.DateTimeField(
        allow_null=True, help_text="Null while it does not count."
    )


class ClubPoolSerializer(RefusesUnknown, serializers.Serializer):
    """Which tanks of yours count in what a club's tanks show together."""

    tanks = serializers.ListField(
        child=serializers.IntegerField(), max_length=TANKS_MAX, help_text="Their ids."
    )
    may_count = serializers.ListField(
        child=serializers.IntegerField(),
        read_only=True,
        help_text="Tanks of yours that count among all others.",
    )

    def validate_tanks(self, pks: list[int]) -> list[Tank]:
        """Return the tanks that ids name; the view passes those that may count as "offered"."""
        offered = {tank.pk: tank for tank in self.context["offered"]}
        if not offered.keys() >= set(pks):
            raise serializers.ValidationError(NOT_AMONG_ALL)
        return [offered[pk] for pk in dict.fromkeys(pks)]
