"""Acclimations in JSON: made as on their pages, then followed tick by tick."""

from django.core.exceptions import ValidationError
from django.utils import timezone
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.common.programs.serializers import PlainFloatField, WholeModelSerializer, api_messages
from apps.common.validation import FILL_IN
from apps.corals.models import Coral, Spot
from apps.lighting.rig import rig_in_force
from apps.photics.limits import LIGHT_FACTOR_MAX, LIGHT_FACTOR_MIN
from apps.planning.acclimation.acclimated_light import acclimated_par, what_lacks
from apps.planning.acclimation.acclimating import (
    following_of,
    notes_of,
    save_acclimation,
    steps_of,
    tick_step,
)
from apps.planning.acclimation.following import Following
from apps.planning.acclimation.limiting_coral import coral_targets
from apps.planning.acclimation.step_settings import UnreachableLight
from apps.planning.models import Acclimation, AcclimationStep, AcclimationTick
from apps.planning.what_if.live_light import LiveLight, live_light

# Why no plan can be made, by what is not known.
LACKS = {
    "spot": "Enter its spot first: its light is read there.",
    "map": "No light is known there yet. A survey of the tank with a few readings is enough.",
    "rock": "No light is known there: it lies inside a rock.",
    "light": "There is no light to start from: the light log says it has been in the dark.",
}
ONE_CORAL = "Leave this out for a whole tank: the coral is chosen for you."
ITS_LIGHT = "Leave this out for a whole tank: it comes from the coral that is chosen."
OF_TANK = "Only for a whole tank."
# What is not to be sent, and why.
NOT_OF_TANK = {"coral": ONE_CORAL, "start_umol": ITS_LIGHT, "target_umol": ITS_LIGHT}
NOT_OF_CORAL = {"factor": OF_TANK}
# What of a plan may change once it is made.
CHANGEABLE = {"starts_on", "every_days", "waits", "text"}
MADE = "A plan’s light and pace can’t be changed. Make a new plan."


class AcclimationStepSerializer(serializers.ModelSerializer):
    """A step: PAR after it, and the setting for it (%, cm raised or cm deep, by `means`)."""

    planned_on = serializers.SerializerMethodField()

    class Meta:
        model = AcclimationStep
        fields = ["number", "planned_on", "light_umol", "setting"]
        read_only_fields = fields

    def get_planned_on(self, step) -> str:
        return step.acclimation.planned_on(step.number).isoformat()


class AcclimationTickSerializer(WholeModelSerializer):
    """A step that was taken. Number 0 is a return to the light before the first step."""

    number = serializers.IntegerField(
        min_value=0, max_value=1000, help_text="The step that the plan gives as `next`."
    )

    class Meta:
        model = AcclimationTick
        fields = ["id", "number", "done_on", "created_at"]
        read_only_fields = ["created_at"]

    def create(self, validated_data):
        try:
            return tick_step(
                plan=validated_data["acclimation"],
                number=validated_data["number"],
                done_on=validated_data["done_on"],
                user=validated_data["created_by"],
            )
        except ValidationError as problem:
            raise serializers.ValidationError(api_messages(problem)) from None


class DueStepSerializer(serializers.Serializer):
    """The step to take next."""

    number = serializers.IntegerField(help_text="0 is the light before the first step.")
    due_on = serializers.DateField(allow_null=True, help_text="The earliest day to tick it on.")
    goes_back = serializers.BooleanField()


class AcclimationHeadSerializer(WholeModelSerializer):
    """An acclimation in a list, with its steps and ticks."""

    steps = AcclimationStepSerializer(many=True, read_only=True)
    ticks = AcclimationTickSerializer(many=True, read_only=True)

    class Meta:
        model = Acclimation
        fields = [
            "id", "coral", "whole_tank", "means", "starts_on", "start_umol", "target_umol", "pace",
            "rate_percent", "every_days", "waits", "text", "rig", "steps", "ticks", "created_at",
        ]  # fmt: skip
        read_only_fields = ["rig", "created_at"]


class AcclimationSerializer(AcclimationHeadSerializer):
    """A plan that moves a coral, or a whole tank, step by step to brighter or dimmer light.

    For one coral send `coral` and `target_umol`; for a whole tank `whole_tank` and `factor`.
    Later you can change only its days, its text and whether steps wait for a note.
    """

    factor = PlainFloatField(
        required=False,
        write_only=True,
        min_value=LIGHT_FACTOR_MIN,
        max_value=LIGHT_FACTOR_MAX,
        help_text="For a whole tank: its light at the end, as a multiple of now.",
    )
    next = serializers.SerializerMethodField(help_text="Null when there is no step to take.")

    class Meta(AcclimationHeadSerializer.Meta):
        fields = [*AcclimationHeadSerializer.Meta.fields, "factor", "next"]
        extra_kwargs = {
            "coral": {"required": False},
            "starts_on": {"required": False, "help_text": "Today, if left out."},
            "start_umol": {
                "required": False,
                "help_text": "If left out, the light the coral is used to, by the light map.",
            },
            "target_umol": {"required": False},
        }

    def get_fields(self):
        fields = super().get_fields()
        # Whether another tank has that number is not told.
        tank = self.context.get("fixed", {}).get("tank")
        corals = (
            Coral.objects.present().living().filter(tank=tank) if tank else Coral.objects.none()
        )
        if isinstance(self.instance, Acclimation):
            corals = Coral.objects.filter(pk=self.instance.coral_id)
        fields["coral"].queryset = corals
        return fields

    @extend_schema_field(DueStepSerializer(allow_null=True))
    def get_next(self, plan: Acclimation) -> dict[str, object] | None:
        following: Following = following_of(
            plan, notes_of(plan), rig_in_force(plan.tank, timezone.now())
        )
        if following.next_number is None:
            return None
        said = {
            "number": following.next_number,
            "due_on": following.due_on,
            "goes_back": following.goes_back,
        }
        return dict(DueStepSerializer(said).data)

    def validate(self, attrs):
        if self.instance:
            before = self.instance
            stays = {n for n in attrs.keys() - CHANGEABLE if attrs[n] != getattr(before, n, None)}
            if stays:
                raise serializers.ValidationError({name: [MADE] for name in sorted(stays)})
            return super().validate(attrs)
        is_tanks = attrs.get("whole_tank", False)
        needed = {"factor"} if is_tanks else {"coral", "target_umol"}
        errors = {name: [FILL_IN] for name in sorted(needed - attrs.keys())}
        odd = NOT_OF_TANK if is_tanks else NOT_OF_CORAL
        errors |= {name: [odd[name]] for name in sorted(odd.keys() & attrs.keys())}
        if errors:
            raise serializers.ValidationError(errors)
        self.made = self.plan_of(self.context["fixed"] | attrs)
        return attrs

    def plan_of(self, said):
        """Return the unsaved Acclimation with its steps and the rig they are counted from."""
        factor = said.pop("factor", None)
        plan = Acclimation(**{"starts_on": said["tank"].today()} | said)
        live = live_light(plan.tank, timezone.now())
        spot = lead_by_coral(plan, live) if factor is None else lead_by_tank(plan, live, factor)
        try:
            # Before its steps, which a plan that is not sound can't have.
            plan.full_clean(exclude=["created_by", "rig"])
            return plan, steps_of(plan, spot=spot, live=live), live.rows
        except UnreachableLight as problem:
            field = "target_umol" if factor is None else "factor"
            raise serializers.ValidationError({field: [str(problem)]}) from None
        except ValidationError as problem:
            raise serializers.ValidationError(api_messages(problem)) from None

    def create(self, validated_data):
        plan, steps, rig = self.made
        plan.created_by = validated_data["created_by"]
        try:
            save_acclimation(plan=plan, steps=steps, rig=rig)
        except ValidationError as problem:
            raise serializers.ValidationError(api_messages(problem)) from None
        return Acclimation.objects.with_all().get(pk=plan.pk)

    def update(self, instance, validated_data):
        validated_data.pop("factor", None)
        return super().update(instance, validated_data)


def lead_by_coral(plan: Acclimation, live: LiveLight) -> Spot:
    """Let a coral's plan start from the light it is used to where none is said; return its spot."""
    coral = plan.coral
    spot = coral.spot_on(plan.tank.today())
    used = acclimated_par([coral], live.light, live.now, plan.tank.zone).get(coral.pk)
    if spot is None or used is None:
        lacks = what_lacks(live, [spot] if spot else [])
        raise serializers.ValidationError({"coral": [LACKS[lacks]]})
    if plan.start_umol is None:
        plan.start_umol = used
    return spot


def lead_by_tank(plan: Acclimation, live: LiveLight, factor: float) -> Spot:
    """Let the coral whose light goes furthest lead a whole tank's plan; return its spot."""
    targets = coral_targets(plan.tank, live, factor=factor)
    if not targets:
        corals = Coral.objects.present().living().filter(tank=plan.tank)
        spots = [s for c in corals.prefetch_related("spots") if (s := c.spot_on(plan.tank.today()))]
        raise serializers.ValidationError({"whole_tank": [LACKS[what_lacks(live, spots)]]})
    lead = targets[0]
    plan.coral, plan.start_umol, plan.target_umol = lead.coral, lead.acclimated_umol, lead.end_umol
    return lead.spot
