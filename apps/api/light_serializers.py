"""Fixtures, day curves and light changes in JSON, read and written as on their pages."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.settings import api_settings

from apps.common.validation import (
    StorableJSONField,
    StrictSerializer,
    WholeModelSerializer,
    told_in_api,
)
from apps.lighting.day_running import curves_to_start, save_started, start_words
from apps.lighting.group_share import share_to_keep
from apps.lighting.hanging import correct_hangings, save_light_change
from apps.lighting.models import (
    DayCurve,
    Fixture,
    HungFixture,
    LightChange,
    PhotometricFile,
    RunningCurve,
)
from apps.lighting.optic_forms import PhotometricFileForm, save_optic
from apps.lighting.rehanging import InvalidRig, rig_from_rows
from apps.photics.limits import CHANNELS_MAX, FIXTURES_MAX, PHOTOMETRY_CHARS_MAX

WHOLE = api_settings.NON_FIELD_ERRORS_KEY
# The key of its file's rays means nothing outside.
FACTS_TOLD = tuple(name for name in HungFixture.FACTS if name != "rays_id")


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


class HungFixtureSerializer(StrictSerializer):
    """A fixture as it hangs after a light change [cm, degrees, %].

    To write: `number` of one that hangs, or `fixture` of one newly hung, and what is set; both
    together put that fixture in the other's place. A setting left out stays as it was.
    `channel_levels` is written as a whole: a channel it does not name is at 100. What the fixture
    is comes from the library when it is hung. `light_percent` is its PAR for 100 of all channels
    at full level.
    """

    fixture = serializers.IntegerField(
        source="fixture_id",
        required=False,
        allow_null=True,
        help_text="Of the writer's library; null where its library is gone.",
    )
    channels = ChannelsField(read_only=True)
    channel_levels = ChannelLevelsField(required=False)
    light_percent = serializers.FloatField(read_only=True)

    class Meta:
        model = HungFixture
        # Whatever a keeper sets of a hanging is written here too.
        fields = ["number", "fixture", *HungFixture.SETTINGS, *FACTS_TOLD, "light_percent"]
        read_only_fields = list(FACTS_TOLD)
        extra_kwargs = {name: {"required": False} for name in ("number", *HungFixture.SETTINGS)}


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
        is_new, asked = self.instance is None, ("zone", "group", "share_percent")
        if is_new or any(name in attrs for name in asked):
            attrs = ({"share_percent": None} if is_new else {}) | attrs
            row = self.candidate(attrs)
            told = {name: getattr(row, name) for name in asked}
            try:
                kept = share_to_keep(row.tank, **told, now=timezone.now())
            except ValidationError as problem:
                raise serializers.ValidationError(told_in_api(problem)) from None
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
            "id", "name", "kind", "lit_length_cm", "lit_width_cm", "optic", "beam_deg", "watts",
            "ppf_umol_s", "efficacy_umol_j", "zone", "channels", "correct_hung",
        ]  # fmt: skip

    def validate(self, attrs):
        correct = attrs.pop("correct_hung", False)
        attrs = super().validate(attrs)
        # A named optic or a file brings its own degrees, and names lose their spaces.
        told = self.candidate(attrs)
        told.clean()
        brought = {name: getattr(told, name) for name in ("beam_deg", "channels")}
        return attrs | brought | {"correct_hung": correct}

    def create(self, validated_data):
        validated_data.pop("correct_hung")
        return super().create(validated_data)

    @transaction.atomic
    def update(self, instance, validated_data):
        correct = validated_data.pop("correct_hung")
        fixture = super().update(instance, validated_data)
        if correct:
            correct_hangings(fixture, self.context["request"].user)
        return fixture


class PhotometricFileSerializer(serializers.ModelSerializer):
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

    def validate(self, attrs):
        self.form = PhotometricFileForm(attrs, fixture=self.context["fixture"])
        if not self.form.is_valid():
            problem = ValidationError(self.form.errors.as_data())
            raise serializers.ValidationError(told_in_api(problem))
        return attrs

    def save(self):
        fixture = self.context["fixture"]
        save_optic(fixture=fixture, photometry=self.form.photometry, fit=self.form.fit)
        self.instance = PhotometricFile.objects.get(fixture=fixture)
        return self.instance


class LightChangeSerializer(WholeModelSerializer):
    """A change; where it tells what hangs, `hung` is the whole rig from then on.

    Written, `hung` needs only the fixtures that are hung or set anew: those it does not name hang
    on as they did, those in `taken_down` do not. Entries after it follow, but for what they told
    themselves. `days` are the curves it starts; those of other groups and zones run on.
    """

    hung = HungFixtureSerializer(many=True, required=False, max_length=FIXTURES_MAX)
    taken_down = serializers.ListField(
        child=serializers.IntegerField(),
        max_length=FIXTURES_MAX,
        required=False,
        help_text="Numbers of the fixtures it took down; left out, as they were.",
    )
    starts = serializers.PrimaryKeyRelatedField(
        many=True,
        queryset=DayCurve.objects.none(),
        write_only=True,
        required=False,
        help_text="Day curves of the tank that run from then on, as they are now.",
    )
    days = RunningCurveSerializer(many=True, read_only=True)

    class Meta:
        model = LightChange
        fields = [
            "id", "happened_at", "reason", "summary", "factor", "day_hours", "ramp_hours",
            "tells_rig", "hung", "taken_down", "days", "starts", "created_at",
        ]  # fmt: skip
        read_only_fields = ["tells_rig", "created_at"]

    def get_fields(self):
        fields = super().get_fields()
        # Whether another tank has a curve of that number is not told.
        tank = self.context.get("fixed", {}).get("tank")
        here = DayCurve.objects.present().filter(tank=tank) if tank else DayCurve.objects.none()
        fields["starts"].child_relation.queryset = here
        return fields

    def validate(self, attrs):
        """Check the entry, its rows and its curves, and tell at once all that is wrong."""
        head, problems = self.head_of(attrs), {}
        try:
            super().validate(head)
        except serializers.ValidationError as problem:
            problems |= problem.detail
        change = self.candidate(head)
        # What hung before is a question of when.
        if "happened_at" not in problems:
            try:
                self.rig = self.rig_of(change, attrs)
            except InvalidRig as problem:
                problems |= told_of_rig(problem)
            try:
                self.runs = curves_to_start(change, attrs.get("starts", ()))
            except ValidationError as problem:
                problems |= told_in_api(problem, home="starts")
        if problems:
            raise serializers.ValidationError(problems)
        return head

    def head_of(self, attrs):
        """Return what is told of the entry itself; a new one that starts curves may say no more."""
        head = {k: v for k, v in attrs.items() if k not in ("hung", "taken_down", "starts")}
        if self.instance is None and attrs.get("starts"):
            usual = {
                "reason": LightChange.Reason.HOURS,
                "summary": start_words(attrs["starts"]),
            }
            return usual | head
        return head

    def rig_of(self, change, attrs):
        """Return the HungFixtures to save and the numbers taken down; None for a rig as it was."""
        if "hung" not in attrs and "taken_down" not in attrs:
            return None, ()
        return rig_from_rows(
            change=change,
            rows=attrs.get("hung", ()),
            taken_down=attrs.get("taken_down"),
            user=self.context["request"].user,
        )

    def create(self, validated_data):
        return self.saved(LightChange(), validated_data)

    def update(self, instance, validated_data):
        return self.saved(instance, validated_data)

    @transaction.atomic
    def saved(self, change, head):
        """Save a LightChange with its rig and what it starts; return it as it now stands."""
        for name, value in head.items():
            setattr(change, name, value)
        hung, down = self.rig
        save_light_change(change=change, hung=hung, taken_down=down)
        save_started(change, self.runs)
        return LightChange.objects.prefetch_related("hung", "days").get(pk=change.pk)


def told_of_rig(problem):
    """Return the messages of an InvalidRig as an answer names them, bad rows by their index."""
    hung = problem.by_row | ({WHOLE: problem.whole} if problem.whole else {})
    told = {"hung": hung, "taken_down": problem.down}
    return {name: said for name, said in told.items() if said}
