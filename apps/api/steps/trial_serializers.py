"""Trials in JSON: begun with a lot that is drawn once, then only stopped and resumed."""

from rest_framework import serializers

from apps.common.programs.serializers import WholeModelSerializer
from apps.corals.models import Coral
from apps.outcomes.models import CORALS_MAX, Trial, TrialCoral
from apps.outcomes.trial.beginning import begin_trial
from apps.outcomes.trial.forms import corals_to_try

TOO_MANY = f"At most {CORALS_MAX} corals, so you can note them all."


class TrialCoralSerializer(serializers.ModelSerializer):
    """A coral of a trial and the day drawn for its step."""

    starts_on = serializers.DateField(read_only=True)

    class Meta:
        model = TrialCoral
        fields = ["coral", "starts_on"]
        read_only_fields = fields


class TrialSerializer(WholeModelSerializer):
    """A trial: each coral's light is changed once, on a day drawn at random."""

    ends_on = serializers.DateField(read_only=True)
    draws = TrialCoralSerializer(many=True, read_only=True)
    corals = serializers.PrimaryKeyRelatedField(
        many=True,
        write_only=True,
        queryset=Coral.objects.none(),
        allow_empty=False,
        help_text=f"One to {CORALS_MAX} living corals with a spot.",
    )

    class Meta:
        model = Trial
        fields = [
            "id", "question", "step", "factor", "began_on", "corals", "ends_on", "resumed_on",
            "stopped_on", "draws", "created_at",
        ]  # fmt: skip
        read_only_fields = ["resumed_on", "stopped_on", "created_at"]

    def get_fields(self):
        fields = super().get_fields()
        tank = self.context.get("fixed", {}).get("tank")
        if tank:
            fields["corals"].child_relation.queryset = corals_to_try(tank)
        return fields

    def to_internal_value(self, data):
        # Before each is looked up.
        sent = data.get("corals") if isinstance(data, dict) else None
        if isinstance(sent, list) and len(sent) > CORALS_MAX:
            raise serializers.ValidationError({"corals": [TOO_MANY]})
        return super().to_internal_value(data)

    def validate_corals(self, corals):
        # Named twice it takes part once.
        return list(dict.fromkeys(corals))

    def validate(self, attrs):
        super().validate({name: value for name, value in attrs.items() if name != "corals"})
        return attrs

    def create(self, validated_data):
        corals = validated_data.pop("corals")
        return begin_trial(trial=Trial(**validated_data), corals=corals)
