"""The answers about a coral in JSON: the light it got over time, and its case."""

from rest_framework import serializers

from apps.common.programs.serializers import RefusesUnknown
from apps.outcomes.case.case_facts import Sign
from apps.outcomes.case.case_rules import Finding, NextStep, Sureness


class StretchAskedSerializer(RefusesUnknown, serializers.Serializer):
    """A stretch of days, both included."""

    since = serializers.DateField(required=False, help_text="A year before the end by default.")
    until = serializers.DateField(required=False, help_text="Today by default.")


class LightStepSerializer(serializers.Serializer):
    """A stretch of time under one light; no numbers where it is not known."""

    start = serializers.DateTimeField()
    end = serializers.DateTimeField()
    spot = serializers.IntegerField(allow_null=True)
    par_umol = serializers.FloatField(allow_null=True)
    low_umol = serializers.FloatField(allow_null=True, help_text="Lower end of the 90 % interval.")
    high_umol = serializers.FloatField(allow_null=True)
    dli_mol = serializers.FloatField(allow_null=True)
    measured = serializers.BooleanField(allow_null=True)
    survey = serializers.IntegerField(allow_null=True)
    beyond_readings = serializers.BooleanField(allow_null=True)


class CoralLightSerializer(serializers.Serializer):
    """The light a coral got, oldest step first, and the band it should have."""

    band_low_umol = serializers.FloatField(
        help_text="PAR it should have at the end of the period. A group's usual band is daily "
        "light, so its PAR depends on the day schedule then in force."
    )
    band_high_umol = serializers.FloatField()
    steps = LightStepSerializer(many=True)


class SpotLightSerializer(serializers.Serializer):
    """The light at a coral's spot at one moment [umol m-2 s-1] and its daily light."""

    par_umol = serializers.FloatField()
    low_umol = serializers.FloatField()
    high_umol = serializers.FloatField()
    dli_mol = serializers.FloatField(allow_null=True)
    measured = serializers.BooleanField()


class NextStepSerializer(serializers.Serializer):
    """The one thing to do next."""

    key = serializers.ChoiceField([step.value for step in NextStep])
    sentence = serializers.CharField()


class CaseSerializer(serializers.Serializer):
    """A coral's case. `sentence` is what the page says; it may be reworded, the keys may not."""

    coral = serializers.IntegerField()
    sign = serializers.ChoiceField([sign.value for sign in Sign])
    first_on = serializers.DateField()
    last_on = serializers.DateField()
    notes = serializers.IntegerField()
    finding = serializers.ChoiceField([finding.value for finding in Finding])
    sureness = serializers.ChoiceField([grade.name.lower() for grade in Sureness])
    speaks_for = serializers.ListField(child=serializers.CharField())
    speaks_against = serializers.ListField(child=serializers.CharField())
    sentence = serializers.CharField()
    next_step = NextStepSerializer()
    place_in_band = serializers.ChoiceField(("below", "within", "above"), allow_null=True)
    light_before = SpotLightSerializer(allow_null=True)
    light_now = SpotLightSerializer(allow_null=True)


class CaseAnswerSerializer(serializers.Serializer):
    """One coral's case, or null."""

    case = CaseSerializer(allow_null=True)


class CasesSerializer(serializers.Serializer):
    """Cases, and how many there are beyond those listed."""

    count = serializers.IntegerField()
    cases = CaseSerializer(many=True)
