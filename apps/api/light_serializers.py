"""Fixtures and day curves in JSON, read and written as on their pages."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.common.programs.serializers import (
    RefusesUnknown,
    StorableJSONField,
    WholeModelSerializer,
    api_messages,
)
from apps.lighting.fixture.optic_forms import PhotometricFileForm
from apps.lighting.fixture.optic_saving import save_fixture, save_optic
from apps.lighting.group_share import share_to_keep
from apps.lighting.hanging import correct_hangings
from apps.lighting.models import DayCurve, Fixture, Optic, PhotometricFile, RunningCurve
from apps.lighting.optic_models import ANGLE_NEEDED
from apps.photics.limits import CHANNELS_MAX, PHOTOMETRY_CHARS_MAX


@extend_schema_field(
    {
        "type": "array",
        "maxItems": CHANNELS_MAX,
        "items": {
            "type": "object",
            "properties": {
                "name": {"type": "string"},
                "peak_nm": {"type": "number"},
                "white_kelvin": {"type": "number"},
                "share_percent": {"type": "number"},
            },
            "required": ["name", "share_percent"],
        },
    }
)
class ChannelsField(StorableJSONField):
    """Channels: each a name, either a peak [nm] or a white [K], and its share of the PAR [%]."""


@extend_schema_field({"type": "object", "additionalProperties": {"type": "number"}})
class ChannelLevelsField(StorableJSONField):
    """The level of each channel by its name [%]; one that is not named is at 100."""


@extend_schema_field(
    {
        "type": "array",
        "items": {
            "type": "array",
            "items": {"type": "number"},
            "minItems": 2,
            "maxItems": 2,
        },
    }
)
class PointsField(StorableJSONField):
    """Points of a day: [minute after midnight, level in percent] each."""


DAY_FIELDS = ["name", "zone", "group", "share_percent", "is_moonlight", "points"]


class RunningCurveSerializer(serializers.ModelSerializer):
    """A day curve as it runs from a light change on, and the named day it is a copy of."""

    day_curve = serializers.PrimaryKeyRelatedField(source="source", read_only=True)
    points = PointsField(read_only=True)

    class Meta:
        model = RunningCurve
        fields = ["day_curve", *DAY_FIELDS]
        read_only_fields = fields


class DayCurveSerializer(WholeModelSerializer):
    """A named day: points in the order of the day, straight between, past midnight once at most.

    Where `group` names channels and `share_percent` is null or left out, their share is taken
    from what hangs, whenever that changes.
    """

    points = PointsField(
        help_text="[minute after midnight, level in percent] each, in the order of the day."
    )

    class Meta:
        model = DayCurve
        fields = ["id", *DAY_FIELDS, "created_at"]
        read_only_fields = ["created_at"]

    def validate(self, attrs):
        is_new, needed = self.instance is None, ("zone", "group", "share_percent")
        if is_new or any(name in attrs for name in needed):
            attrs = ({"share_percent": None} if is_new else {}) | attrs
            row = self.candidate(attrs)
            stated = {name: getattr(row, name) for name in needed}
            try:
                kept = share_to_keep(row.tank, **stated, now=timezone.now())
            except ValidationError as problem:
                raise serializers.ValidationError(api_messages(problem)) from None
            attrs = attrs | {"share_percent": kept}
        return super().validate(attrs)


class FixtureSerializer(WholeModelSerializer):
    """A fixture of the user's library [cm, degrees, W, umol s-1, umol J-1, %]."""

    channels = ChannelsField(required=False)
    correct_hung = serializers.BooleanField(
        write_only=True,
        required=False,
        help_text="It was described wrongly: correct it where it hangs too, in the past as well.",
    )

    class Meta:
        model = Fixture
        fields = [
            "id", "name", "kind", "lit_length_cm", "lit_width_cm", "optic", "beam_deg",
            "emitter", "lamp", "watts", "ppf_umol_s", "efficacy_umol_j", "zone", "channels",
            "correct_hung",
        ]  # fmt: skip

    def validate(self, attrs):
        correct = attrs.pop("correct_hung", False)
        is_angle = attrs.get("optic", Optic.ANGLE) == Optic.ANGLE
        if self.instance is None and is_angle and "beam_deg" not in attrs:
            raise serializers.ValidationError({"beam_deg": ANGLE_NEEDED})
        attrs = super().validate(attrs)
        # A named optic or a file brings its own degrees, and names lose their spaces.
        fixture = self.candidate(attrs)
        fixture.clean()
        brought = {name: getattr(fixture, name) for name in ("beam_deg", "channels")}
        return attrs | brought | {"correct_hung": correct}

    def create(self, validated_data):
        validated_data.pop("correct_hung")
        return super().create(validated_data)

    @transaction.atomic
    def update(self, instance, validated_data):
        correct = validated_data.pop("correct_hung")
        for name, value in validated_data.items():
            setattr(instance, name, value)
        save_fixture(fixture=instance)
        if correct:
            correct_hangings(instance, self.context["request"].user)
        return instance


class PhotometricFileSerializer(RefusesUnknown, serializers.ModelSerializer):
    """A fixture's measured distribution: LM-63 or EULUMDAT as text, given back as LM-63.

    The light field follows its rays; `beam_deg` is the plain beam nearest to it, `misplaced` and
    `upward` are the shares of its light that this would put elsewhere and that goes up [1].
    """

    text = serializers.CharField(max_length=PHOTOMETRY_CHARS_MAX, trim_whitespace=False)
    tilt = serializers.CharField(
        max_length=PHOTOMETRY_CHARS_MAX,
        trim_whitespace=False,
        required=False,
        allow_blank=True,
        write_only=True,
        help_text="Tilt factors, only where the file names another one in its TILT= line.",
    )
    notes = serializers.ListField(child=serializers.CharField(), read_only=True)

    class Meta:
        model = PhotometricFile
        fields = ["text", "tilt", "told_as", "notes", "beam_deg", "misplaced", "upward"]
        read_only_fields = ["told_as", "beam_deg", "misplaced", "upward"]

    def stored(self):
        return self.context["fixture"].measured

    def validate(self, attrs):
        self.form = PhotometricFileForm(attrs, fixture=self.context["fixture"])
        if not self.form.is_valid():
            problem = ValidationError(self.form.errors.as_data())
            raise serializers.ValidationError(api_messages(problem))
        return attrs

    def save(self):
        fixture = self.context["fixture"]
        save_optic(fixture=fixture, photometry=self.form.photometry, fit=self.form.fit)
        self.instance = PhotometricFile.objects.get(fixture=fixture)
        return self.instance
