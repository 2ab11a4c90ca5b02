"""Deleted rows in JSON."""

from rest_framework import serializers

from apps.tanks.deleted import DeletedRow


class RestoredSerializer(serializers.Serializer):
    """A row that is back."""

    kind = serializers.CharField(source="kind.key")
    id = serializers.IntegerField(source="row.pk")
    tank = serializers.SerializerMethodField(help_text="Null if it is in no tank.")
    words = serializers.CharField(help_text="Words that tell it from others of its kind.")

    def get_tank(self, deleted: DeletedRow) -> int | None:
        tank = deleted.kind.tank_of(deleted.row)
        return None if tank is None else tank.pk


class DeletedSerializer(RestoredSerializer):
    """A row that was deleted of late."""

    deleted_at = serializers.DateTimeField(source="row.removed_at")
    goes_at = serializers.DateTimeField(help_text="After this it may be gone for good.")


class DeletedListSerializer(serializers.Serializer):
    """What was deleted of late."""

    results = DeletedSerializer(many=True)
    more = serializers.IntegerField(help_text="How many older ones are not listed.")
