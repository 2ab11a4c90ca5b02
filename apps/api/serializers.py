"""What each row looks like in JSON. Bad rows get the same sentences as in the forms."""

from django.db import transaction
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers, status
from rest_framework.exceptions import APIException

from apps.common.numbers import shorten
from apps.common.programs.serializers import (
    PlainFloatField,
    RefusesUnknown,
    StorableJSONField,
    WholeModelSerializer,
)
from apps.corals.models import Coral, CoralSize, HealthNote, PhotoColour, Spot, WaterEvent
from apps.corals.notes.noting import save_note
from apps.photics.limits import SURVEY_READINGS_MAX
from apps.surveys.forms import CHANNELS_MOST, LEVEL_NAME_CHARS, NO_LEVEL, TOO_MANY_LEVELS
from apps.surveys.models import LEVEL, Meter, MeterCheck, Survey
from apps.surveys.recording import InvalidRows, ReadingRow, StaleSurvey, save_readings
from apps.tanks.models import Rock

# So many rows come in one request; a year of daily water readings in one.
BULK_ROWS_MAX = 500


class RockSerializer(WholeModelSerializer):
    """A rock as an upright box [cm]."""

    class Meta:
        model = Rock
        fields = [
            "id", "name", "kind", "x_cm", "y_cm", "depth_cm", "length_cm", "width_cm", "height_cm",
        ]  # fmt: skip


class MeterSerializer(WholeModelSerializer):
    """A meter: what its values are multiplied by, and how sure it is."""

    class Meta:
        model = Meter
        fields = [
            "id", "label", "kind", "correction_factor", "immersion_factor", "corrects_for_water",
            "uncertainty_percent", "uncertainty_from", "checked_on", "follows_checks",
        ]  # fmt: skip


class MeterCheckSerializer(WholeModelSerializer):
    """A check of a meter against another, or against a reference."""

    class Meta:
        model = MeterCheck
        fields = ["id", "checked_on", "other", "reference", "reference_percent", "pairs"]

    def get_fields(self):
        fields = super().get_fields()
        meter = self.context.get("fixed", {}).get("meter")
        own = Meter.objects.kept_with(meter) if meter else Meter.objects.none()
        fields["other"].queryset = own
        return fields


class CoralSerializer(WholeModelSerializer):
    """A coral: its group, and its band of PAR where it has one of its own [umol m-2 s-1]."""

    class Meta:
        model = Coral
        fields = [
            "id", "name", "group", "genus", "band_low_umol", "band_high_umol", "added_on",
            "came_from", "parent", "gone_on", "gone_how", "gone_words", "created_at",
        ]  # fmt: skip
        read_only_fields = ["created_at"]

    def get_fields(self):
        fields = super().get_fields()
        # A frag's colony is one of the same tank; whether another tank has that number is not told.
        tank = self.context.get("fixed", {}).get("tank")
        here = Coral.objects.present().filter(tank=tank) if tank else Coral.objects.none()
        fields["parent"].queryset = here
        return fields


class SpotSerializer(WholeModelSerializer):
    """Where a coral sits from a day on [cm]."""

    class Meta:
        model = Spot
        fields = ["id", "x_cm", "y_cm", "depth_cm", "since"]


class HealthNoteSerializer(WholeModelSerializer):
    """What was seen on a coral on a day."""

    also_seen = serializers.ListField(
        child=serializers.ChoiceField(HealthNote.Seen.choices),
        required=False,
        help_text="Further signs beside the main one in `seen`.",
    )
    version = serializers.IntegerField(
        required=False,
        min_value=0,
        help_text="Send back the version you read: what others saved since is kept beside.",
    )

    class Meta:
        model = HealthNote
        fields = [
            "id", "noted_on", "noted_time", "noted_by", "condition", "seen", "also_seen",
            "strength", "where", "text", "version", "created_at",
        ]  # fmt: skip
        read_only_fields = ["created_at"]

    def create(self, validated_data):
        validated_data.pop("version", None)
        return super().create(validated_data)

    def update(self, instance, validated_data):
        knows = validated_data.pop("version", None)
        for name, value in validated_data.items():
            setattr(instance, name, value)
        save_note(note=instance, knows=knows)
        return instance


class WaterEventSerializer(WholeModelSerializer):
    """A reading of the water, or what happened to the tank."""

    class Meta:
        model = WaterEvent
        fields = ["id", "happened_at", "kind", "value", "unit", "text", "could_hurt", "created_at"]
        read_only_fields = ["created_at"]


class BulkSerializer(RefusesUnknown, serializers.Serializer):
    """Many rows at once: all are made, or none."""

    makes_rows = True

    def create(self, validated_data):
        rows, fixed = validated_data.pop("rows"), validated_data
        one = self.fields["rows"].child
        with transaction.atomic():
            return {"rows": [one.create(row | fixed) for row in rows]}


class HealthNotesSerializer(BulkSerializer):
    """Notes on one coral, all made or none."""

    rows = HealthNoteSerializer(many=True, allow_empty=False, max_length=BULK_ROWS_MAX)


class WaterEventsSerializer(BulkSerializer):
    """Entries of one tank's water, all made or none."""

    rows = WaterEventSerializer(many=True, allow_empty=False, max_length=BULK_ROWS_MAX)


class ChangedMeanwhile(APIException):
    status_code = status.HTTP_409_CONFLICT
    default_detail = "Someone saved other readings since you read these. Read the survey again."
    default_code = "changed_meanwhile"


class ReadingSerializer(RefusesUnknown, serializers.Serializer):
    """One reading: a point [cm] and what the meter showed there [umol m-2 s-1]."""

    x_cm = PlainFloatField()
    y_cm = PlainFloatField()
    depth_cm = PlainFloatField()
    value_umol = PlainFloatField()
    spread_umol = PlainFloatField(required=False, allow_null=True)
    client_id = serializers.UUIDField(
        required=False, help_text="Yours to make: sending it twice stores the reading once."
    )
    par_umol = serializers.FloatField(
        read_only=True, help_text="The value after the meter's correction."
    )


@extend_schema_field(
    {
        "type": "object",
        "additionalProperties": {"type": "number", "minimum": 0, "maximum": LEVEL[1]},
        "maxProperties": CHANNELS_MOST,
    }
)
class LevelsField(StorableJSONField):
    """The level of each channel or lamp by its name [%], where it is known."""

    def to_internal_value(self, data):
        levels = super().to_internal_value(data)
        if not isinstance(levels, dict):
            self.fail("invalid")
        if len(levels) > CHANNELS_MOST:
            raise serializers.ValidationError(TOO_MANY_LEVELS)
        return dict(self.level(name, percent) for name, percent in levels.items())

    def level(self, name, percent):
        plain = name.strip(" :=")
        is_number = isinstance(percent, int | float) and not isinstance(percent, bool)
        is_named = 0 < len(plain) <= LEVEL_NAME_CHARS
        if not (is_named and is_number and 0 <= percent <= LEVEL[1]):
            raise serializers.ValidationError(NO_LEVEL.format(shorten(name)))
        return plain, float(percent)


SURVEY_HEAD = [
    "id", "taken_at", "meter", "correction_factor", "spectral_factor", "level_percent", "levels",
    "pumps", "lid", "hours_on", "channel", "light_note", "starts_anew", "notes", "version",
]  # fmt: skip


class SurveyHeadSerializer(WholeModelSerializer):
    """A survey in a list: all but its readings."""

    reading_count = serializers.IntegerField(read_only=True)
    levels = LevelsField(read_only=True)

    class Meta:
        model = Survey
        fields = [*SURVEY_HEAD, "reading_count", "created_at"]


class SurveySerializer(WholeModelSerializer):
    """A survey with its readings. Written readings take the place of all that stood there."""

    version = serializers.IntegerField(
        required=False,
        min_value=0,
        help_text="Send back the version you read: readings saved by others since are kept.",
    )
    levels = LevelsField(
        required=False, help_text="The level of each channel or lamp by its name [%]."
    )
    readings = ReadingSerializer(many=True, required=False, max_length=SURVEY_READINGS_MAX)

    class Meta:
        model = Survey
        fields = [*SURVEY_HEAD, "readings", "created_at"]
        read_only_fields = ["created_at"]
        extra_kwargs = {
            "correction_factor": {
                "required": False,
                "help_text": "Left out, it follows the meter and `spectral_factor`.",
            },
            "spectral_factor": {
                "help_text": "Part of `correction_factor`: how the meter misreads this light's "
                "colour. 1 unless its maker states one."
            },
            "hours_on": {"help_text": "Hours since lights-on."},
            "lid": {"help_text": "Lid or screen."},
            "channel": {
                "help_text": "The one channel that was on, if it was alone: the tank's light map "
                "leaves such a survey out."
            },
        }

    def get_fields(self):
        fields = super().get_fields()
        # The view says which meters the user may name.
        fields["meter"].queryset = self.context.get("meters", Meter.objects.none())
        return fields

    def validate(self, attrs):
        if (factor := self.followed_factor(attrs)) is not None:
            attrs["correction_factor"] = factor
        head = {k: v for k, v in attrs.items() if k not in ("readings", "version")}
        super().validate(head)
        if self.instance and "readings" in attrs and "version" not in attrs:
            raise serializers.ValidationError(
                {"version": "Say which version of the survey these readings replace."}
            )
        return attrs

    def validate_channel(self, channel):
        return " ".join(channel.split())

    def followed_factor(self, attrs):
        """Return the factor by the meter and the light's colour; None where it is said or stays."""
        if "correction_factor" in attrs:
            return None
        head = {k: v for k, v in attrs.items() if k not in ("readings", "version")}
        survey, before = self.candidate(head), self.instance
        by_day = "taken_at" in head and survey.meter and survey.meter.follows_checks
        if before is None or "meter" in head or by_day:
            return survey.factor_now()
        if survey.spectral_factor == before.spectral_factor:
            return None
        # The meter's part stays as this survey took it.
        return before.correction_factor * survey.spectral_factor / before.spectral_factor

    @transaction.atomic
    def create(self, validated_data):
        rows = validated_data.pop("readings", [])
        validated_data.pop("version", None)
        survey = Survey.objects.create(**validated_data)
        return self._with_readings(survey, rows, expected_version=0)

    @transaction.atomic
    def update(self, instance, validated_data):
        rows = validated_data.pop("readings", None)
        expected = validated_data.pop("version", None)
        instance = super().update(instance, validated_data)
        return self._with_readings(instance, rows, expected_version=expected)

    def _with_readings(self, survey, rows, *, expected_version):
        """Save the readings, if any were sent, and return the survey as it now stands."""
        if rows is not None:
            try:
                save_readings(
                    survey=survey,
                    rows=[ReadingRow(**row) for row in rows],
                    expected_version=expected_version,
                    by=self.context["request"].user,
                )
            except StaleSurvey:
                raise ChangedMeanwhile from None
            except InvalidRows as problem:
                raise serializers.ValidationError({"readings": problem.by_row}) from None
        return Survey.objects.prefetch_related("readings").get(pk=survey.pk)


class CoralSizeSerializer(WholeModelSerializer):
    """How large a coral was on a day [cm, cm2]."""

    class Meta:
        model = CoralSize
        fields = ["id", "measured_on", "method", "diameter_cm", "area_cm2", "created_at"]
        read_only_fields = ["method", "created_at"]


class PhotoColourSerializer(serializers.ModelSerializer):
    """A colour and what it is worth; the three numbers are null where a photo can't be measured."""

    photo = serializers.UUIDField(source="photo.key", read_only=True)
    noted_on = serializers.DateField(source="photo.note.noted_on", read_only=True)
    covariance = serializers.ListField(child=serializers.FloatField(), read_only=True)
    problem_keys = serializers.ListField(child=serializers.CharField(), read_only=True)
    card_error = serializers.DictField(
        child=serializers.ListField(child=serializers.FloatField()), read_only=True
    )

    class Meta:
        model = PhotoColour
        fields = [
            "id", "photo", "noted_on", "reference_kind", "light", "lightness", "a_star", "b_star",
            "covariance", "card_error", "problem_keys", "answer", "marks", "measured_at",
        ]  # fmt: skip
        read_only_fields = fields
