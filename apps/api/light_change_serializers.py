"""Light changes in JSON, with all that hangs after them and the day curves they start."""

from django.core.exceptions import ValidationError
from django.db import transaction
from rest_framework import serializers
from rest_framework.settings import api_settings

from apps.api.light_serializers import ChannelLevelsField, ChannelsField, RunningCurveSerializer
from apps.common.programs.serializers import StrictSerializer, WholeModelSerializer, api_messages
from apps.lighting.change.rehanging import InvalidRig, rig_from_rows
from apps.lighting.day.running import curves_to_start, save_started, start_words
from apps.lighting.hanging import save_light_change
from apps.lighting.models import DayCurve, HungFixture, LightChange
from apps.photics.limits import FIXTURES_MAX

WHOLE = api_settings.NON_FIELD_ERRORS_KEY
# More groups than any tank's channels and zones make.
STARTS_MAX = 50
# Under this a row carries what of it can't be read.
UNREAD = "unread"
# The key of its file's rays means nothing outside.
FACTS_SHOWN = tuple(name for name in HungFixture.FACTS if name != "rays_id")


class HungRows(serializers.ListSerializer):
    """Rows read as far as they can be, so that what is wrong with each is answered at once."""

    def run_child_validation(self, data):
        try:
            return super().run_child_validation(data)
        except serializers.ValidationError as problem:
            # What is wrong with a row that is null comes as a list.
            wrong = problem.detail
            wrong = wrong if isinstance(wrong, dict) else {WHOLE: wrong}
            # Without knowing which fixture it is about, nothing of a row can be checked.
            if not isinstance(data, dict) or {WHOLE, "number", "fixture"} & wrong.keys():
                return {UNREAD: wrong}
            rest = {name: value for name, value in data.items() if name not in wrong}
            return super().run_child_validation(rest) | {UNREAD: wrong}


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
        list_serializer_class = HungRows
        # Whatever a keeper sets of a hanging is written here too.
        fields = ["number", "fixture", *HungFixture.SETTINGS, *FACTS_SHOWN, "light_percent"]
        read_only_fields = list(FACTS_SHOWN)
        extra_kwargs = {name: {"required": False} for name in ("number", *HungFixture.SETTINGS)}


class StartsField(serializers.ManyRelatedField):
    """Keys of day curves; each costs a query, so nobody sends them by the thousand."""

    default_error_messages = {"too_many": f"Start at most {STARTS_MAX} day curves at once."}

    def to_internal_value(self, data):
        if isinstance(data, list) and len(data) > STARTS_MAX:
            self.fail("too_many")
        return super().to_internal_value(data)


class LightChangeSerializer(WholeModelSerializer):
    """A change; where it tells what hangs, `hung` is the whole rig from then on.

    Written, `hung` needs only the fixtures that are hung or set anew: those it does not name hang
    on as they did, those in `taken_down` do not. Entries after it follow, but for what they set
    themselves. `days` are the curves it starts; those of other groups and zones run on. A bad row
    is named by its index: {"hung": {"2": {"height_cm": ["..."]}}}.
    """

    hung = HungFixtureSerializer(many=True, required=False, max_length=FIXTURES_MAX)
    taken_down = serializers.ListField(
        child=serializers.IntegerField(),
        max_length=FIXTURES_MAX,
        required=False,
        help_text="Numbers of the fixtures it took down; left out, as they were.",
    )
    starts = StartsField(
        child_relation=serializers.PrimaryKeyRelatedField(queryset=DayCurve.objects.none()),
        write_only=True,
        required=False,
        help_text="Day curves of the tank that run from then on, as they are now.",
    )
    days = RunningCurveSerializer(many=True, read_only=True)

    class Meta:
        model = LightChange
        fields = [
            "id", "happened_at", "reason", "summary", "factor", "day_hours", "ramp_hours",
            "cover", "cover_done", "cover_percent", "cover_without_umol", "cover_with_umol",
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

    def to_internal_value(self, data):
        try:
            return super().to_internal_value(data)
        except serializers.ValidationError as problem:
            rows = self.fields["hung"]
            if "hung" in problem.detail or not isinstance(data, dict) or not data.get("hung"):
                raise
            unread = unread_in(rows.run_validation(data["hung"]))
            raise serializers.ValidationError(problem.detail | unread) from None

    def validate(self, attrs):
        """Check the entry, its rows and its curves, and tell at once all that is wrong."""
        head = self.head_of(attrs)
        problems = unread_in(attrs.get("hung", ()))
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
                problems |= rig_messages(problem, problems.get("hung", {}))
            try:
                self.runs = curves_to_start(change, attrs.get("starts", ()))
            except ValidationError as problem:
                problems |= api_messages(problem, home="starts")
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


def unread_in(rows):
    """Return {"hung": {index: messages}} of what HungRows could not read; {} where it is all."""
    unread = {index: row[UNREAD] for index, row in enumerate(rows) if UNREAD in row}
    return {"hung": unread} if unread else {}


def rig_messages(problem, unread):
    """Return the messages of an InvalidRig as an answer names them, bad rows by their index.

    `unread` {index: messages}: a cell that could not be read is named as that and not as missing,
    and a row whose fixture could not be read as nothing else.
    """
    hung = {index: dict(messages) for index, messages in problem.by_row.items()}
    for index, messages in unread.items():
        is_lost = {WHOLE, "number", "fixture"} & messages.keys()
        hung[index] = messages if is_lost else hung.get(index, {}) | messages
    hung |= {WHOLE: problem.whole} if problem.whole else {}
    answer = {"hung": hung, "taken_down": problem.down}
    return {name: messages for name, messages in answer.items() if messages}
