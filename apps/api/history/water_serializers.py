"""A table of the water log in JSON: what it holds, and what became of it."""

from rest_framework import serializers

from apps.api.history.history_serializers import ORDERS
from apps.api.sent_tables import (
    FileTable,
    RefusedLineSerializer,
    SentTableSerializer,
    TextTable,
)
from apps.corals.water.forms import WaterImportForm


class WaterTableSerializer(SentTableSerializer):
    """What is said of a table of the water log beside its lines."""

    form_class = WaterImportForm

    dates = serializers.ChoiceField(
        ORDERS,
        required=False,
        help_text="What comes first in dates such as 3/4/2026, if no line makes it clear.",
    )


class WaterTextSerializer(TextTable, WaterTableSerializer):
    """Entries of the water log as the text of a table."""


class WaterFileSerializer(FileTable, WaterTableSerializer):
    """Entries of the water log as a file."""


class WaterEntrySerializer(serializers.Serializer):
    """An entry as it was read."""

    happened_at = serializers.DateTimeField()
    words = serializers.CharField()
    could_hurt = serializers.BooleanField()
    is_new = serializers.BooleanField(help_text="It is not in the log yet.")


class ReadWaterSerializer(serializers.Serializer):
    """What a table of the water log holds."""

    good = serializers.IntegerField(help_text="Lines that can be read.")
    entries = serializers.IntegerField(
        source="kept_count",
        help_text="Entries they make: for a day of probe values, the lowest, mean and highest.",
    )
    new = serializers.IntegerField(source="new_count", help_text="Entries that would be added.")
    known = serializers.IntegerField(source="known_count", help_text="Those the log has already.")
    probe_days = serializers.IntegerField(source="days", help_text="Days of a probe among them.")
    unfinished_days = serializers.IntegerField(
        source="unfinished", help_text="Days of a probe left out because they are incomplete."
    )
    first = WaterEntrySerializer(many=True, source="first_good", help_text="The first entries.")
    unread = serializers.ListField(
        child=serializers.CharField(), help_text="Titles and headings that are not read."
    )
    sheet = serializers.CharField(help_text="Which sheet was read, where the file has several.")
    bad = serializers.IntegerField(help_text="Lines that can’t be read.")
    refused = RefusedLineSerializer(many=True, source="bad_shown", help_text="The first of them.")


class AddedWaterSerializer(serializers.Serializer):
    """What became of a table of the water log."""

    added = serializers.IntegerField(help_text="Entries added.")
    known = serializers.IntegerField(help_text="Entries the log had already.")
    bad = serializers.IntegerField(help_text="Lines that can’t be read and were left out.")
    refused = RefusedLineSerializer(many=True, help_text="The first of them.")
