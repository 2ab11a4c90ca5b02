"""Plans, acclimations and trials in JSON. But for layouts they are made on their pages."""

from django.core.exceptions import ValidationError
from rest_framework import serializers

from apps.common.validation import WholeModelSerializer, api_messages
from apps.outcomes.models import Trial, TrialCoral
from apps.planning.layout_files.sent_question import sent_question
from apps.planning.models import Acclimation, AcclimationStep, AcclimationTick, Plan
from apps.planning.stored_layout import write_question
from apps.tanks.models import Tank

NO_LAYOUT = "Only a layout has a question that is sent."
STAYS = "A plan stays with its tank: make another."


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


class PlanSerializer(WholeModelSerializer):
    """A plan with what was asked and what was found: each {} or an object with its "version".

    A layout is made by its question; another question starts its search anew.
    """

    owner = serializers.CharField(source="owner.shown_name", read_only=True)
    question = serializers.DictField(
        write_only=True,
        help_text="As `find-layout` takes it, without `tank` where the plan is of one. A fixture "
        "may name one of yours by `fixture`.",
    )
    asked = serializers.DictField(read_only=True)
    answer = serializers.DictField(read_only=True)

    class Meta:
        model = Plan
        fields = [*PlanHeadSerializer.Meta.fields, "question", "asked", "answer"]
        read_only_fields = ["kind", "sent_at"]

    def get_fields(self):
        fields = super().get_fields()
        request = self.context.get("request")
        known = request.user if request and request.user.is_authenticated else None
        fields["tank"].queryset = (
            Tank.objects.changeable_by(known) if known else Tank.objects.none()
        )
        fields["question"].required = self.instance is None
        return fields

    def validate_tank(self, tank):
        if self.instance and tank != self.instance.tank:
            raise serializers.ValidationError(STAYS)
        return tank

    def validate(self, attrs):
        question = attrs.pop("question", None)
        if question is not None:
            attrs |= self.new_question(question, attrs)
        return super().validate(attrs)

    def new_question(self, question, attrs):
        """Return what is stored of a question, and that nothing answers it yet."""
        if self.instance and self.instance.kind != Plan.Kind.LAYOUT:
            raise serializers.ValidationError({"question": [NO_LAYOUT]})
        tank = self.instance.tank if self.instance else attrs.get("tank")
        try:
            stored = sent_question(question, user=self.context["request"].user, tank=tank)
        except ValidationError as problem:
            raise serializers.ValidationError({"question": api_messages(problem)}) from None
        new = write_question(stored)
        is_same = self.instance is not None and new == self.instance.asked
        return {} if is_same else {"asked": new, "answer": {}}


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
