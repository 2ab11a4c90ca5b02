"""Plans, acclimations and trials in JSON. They are made on their pages, so all is read-only."""

from rest_framework import serializers

from apps.outcomes.models import Trial, TrialCoral
from apps.planning.models import Acclimation, AcclimationStep, AcclimationTick, Plan


class PlanHeadSerializer(serializers.ModelSerializer):
    """A plan in a list: all but its documents."""

    owner = serializers.CharField(source="owner.shown_name", read_only=True)

    class Meta:
        model = Plan
        fields = [
            "id",
            "tank",
            "kind",
            "name",
            "notes",
            "for_whom",
            "by_whom",
            "letterhead",
            "owner",
            "created_at",
            "changed_at",
            "sent_at",
        ]
        read_only_fields = fields


class PlanSerializer(PlanHeadSerializer):
    """A plan with what was asked and what was found: each {} or an object with its "version"."""

    asked = serializers.DictField(read_only=True)
    answer = serializers.DictField(read_only=True)

    class Meta(PlanHeadSerializer.Meta):
        fields = [*PlanHeadSerializer.Meta.fields, "asked", "answer"]
        read_only_fields = fields


class AcclimationStepSerializer(serializers.ModelSerializer):
    """A step: PAR after it, and what to set by the plan's means (%, cm raised or cm deep)."""

    planned_on = serializers.SerializerMethodField()

    class Meta:
        model = AcclimationStep
        fields = ["number", "planned_on", "light_umol", "setting"]
        read_only_fields = fields

    def get_planned_on(self, step) -> str:
        return step.acclimation.planned_on(step.number).isoformat()


class AcclimationTickSerializer(serializers.ModelSerializer):
    """A step that was taken; number 0 is the light before the first, come back to."""

    class Meta:
        model = AcclimationTick
        fields = ["number", "done_on"]
        read_only_fields = fields


class AcclimationSerializer(serializers.ModelSerializer):
    """The way from the light a coral, or a tank led by it, is used to, to another."""

    steps = AcclimationStepSerializer(many=True, read_only=True)
    ticks = AcclimationTickSerializer(many=True, read_only=True)

    class Meta:
        model = Acclimation
        fields = [
            "id", "coral", "whole_tank", "means", "starts_on", "start_umol", "target_umol", "pace",
            "rate_percent", "every_days", "waits", "text", "rig", "steps", "ticks", "created_at",
        ]  # fmt: skip
        read_only_fields = fields


class TrialCoralSerializer(serializers.ModelSerializer):
    """A coral of a trial and the day of its step, as the lot fell."""

    starts_on = serializers.DateField(read_only=True)

    class Meta:
        model = TrialCoral
        fields = ["coral", "starts_on"]
        read_only_fields = fields


class TrialSerializer(serializers.ModelSerializer):
    """A trial: one step of light on a day drawn by lot for each coral."""

    ends_on = serializers.DateField(read_only=True)
    draws = TrialCoralSerializer(many=True, read_only=True)

    class Meta:
        model = Trial
        fields = [
            "id", "question", "step", "factor", "began_on", "ends_on", "resumed_on", "stopped_on",
            "draws", "created_at",
        ]  # fmt: skip
        read_only_fields = fields
