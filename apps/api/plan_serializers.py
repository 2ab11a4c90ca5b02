"""Plans in JSON: layouts are made by their question, what-ifs of a tank below it."""

from django.core.exceptions import ValidationError
from rest_framework import serializers

from apps.common.programs.serializers import WholeModelSerializer, api_messages
from apps.planning.layout_files.sent_question import sent_question
from apps.planning.models import Plan
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
