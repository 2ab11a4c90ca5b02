"""A what-if in JSON: another rig over a tank as it stands, and the light it would give."""

from django.core.exceptions import ValidationError
from django.http import QueryDict
from rest_framework import serializers

from apps.api.light_change_serializers import HungFixtureSerializer, rig_messages, unread_in
from apps.common.programs.serializers import PlainFloatField, RefusesUnknown
from apps.lighting.change.rehanging import InvalidRig, rig_from_rows
from apps.lighting.models import LightChange
from apps.photics.ground.lengths import CM
from apps.photics.layout.question import Zone
from apps.photics.limits import FIXTURES_MAX
from apps.planning.layout.zones.zone_forms import WEIGHTS, ZONES_MOST, OriginalZone
from apps.planning.models import Plan
from apps.planning.plan_forms import PlanNameForm
from apps.planning.what_if.keeping import USUAL_DEPTH_SHARE, TriedRig, tried_rig
from apps.planning.what_if.live_light import LiveLight
from apps.planning.what_if.trying import hours_of
from apps.planning.what_if.zones import zone_problems, zone_rows, zones_of, zones_query

NAME_CHARS, NOTES_CHARS = (Plan._meta.get_field(name).max_length for name in ("name", "notes"))


def ends(of_what: str) -> serializers.ListField:
    """Return the field of a range [cm]."""
    return serializers.ListField(
        child=PlainFloatField(min_value=0),
        min_length=2,
        max_length=2,
        help_text=f"From and to, {of_what}.",
    )


class TriedZoneSerializer(RefusesUnknown, serializers.Serializer):
    """A part of the water, and the light that is wanted there at the day's peak."""

    name = serializers.CharField(max_length=60)
    x_cm = ends("from the left")
    y_cm = ends("from the front")
    depth_cm = ends("below the surface")
    low_umol = PlainFloatField(min_value=0)
    high_umol = PlainFloatField(min_value=0)
    # A number of a few: clients are generated without choices of decimals.
    weight = PlainFloatField(
        default=1.0,
        min_value=min(WEIGHTS)[0],
        max_value=max(WEIGHTS)[0],
        help_text="How much it counts against the others: 0.5, 1 or 2.",
    )
    high_is_soft = serializers.BooleanField(
        default=False, help_text="Light above `high_umol` is only a caution."
    )

    def validate(self, attrs: dict) -> dict:
        ranges = {name: tuple(attrs[name]) for name in ("x_cm", "y_cm", "depth_cm")}
        return {"zone": Zone(**attrs | ranges)}


class WhatIfSerializer(RefusesUnknown, serializers.Serializer):
    """Another rig over a tank. What is not named hangs on as it does now."""

    hung = HungFixtureSerializer(
        many=True, required=False, max_length=FIXTURES_MAX, write_only=True
    )
    taken_down = serializers.ListField(
        child=serializers.IntegerField(),
        max_length=FIXTURES_MAX,
        required=False,
        help_text="Numbers of the fixtures to take down.",
    )
    depth_cm = PlainFloatField(
        required=False,
        min_value=0,
        help_text="The depth of the map; two fifths of the water’s depth if left out.",
    )
    zones = TriedZoneSerializer(
        many=True,
        required=False,
        max_length=ZONES_MOST,
        allow_empty=False,
        help_text="Zones whose share in their band is counted; if left out, they follow "
        "what lives in the tank.",
    )

    def validate(self, attrs: dict) -> dict:
        """Try the rig; the view passes the LiveLight of the tank as context["live"]."""
        live: LiveLight = self.context["live"]
        if live.problem:
            raise serializers.ValidationError(live.problem)
        problems = unread_in(attrs.get("hung", ()))
        rows, zones = list(live.rows), ()
        try:
            rows = self.rig(live, attrs)
        except InvalidRig as problem:
            problems |= rig_messages(problem, problems.get("hung", {}))
        try:
            zones = zones_tried(live, attrs.get("zones"))
        except ValidationError as problem:
            problems["zones"] = problem.messages
        depth_cm = attrs.get("depth_cm", USUAL_DEPTH_SHARE * live.tank.depth_cm)
        if depth_cm > live.tank.depth_cm:
            problems["depth_cm"] = [f"The water is {live.tank.depth_cm:g} cm deep."]
        if problems:
            raise serializers.ValidationError(problems)
        try:
            tried = tried_rig(live, rows, depth_cm=depth_cm, zones=zones)
        except ValueError as problem:
            raise serializers.ValidationError(str(problem)) from None
        return attrs | {"tried": tried}

    def rig(self, live: LiveLight, attrs: dict) -> list:
        """Return the HungFixtures of what was sent. Raises InvalidRig."""
        hung, _ = rig_from_rows(
            change=LightChange(tank=live.tank, happened_at=live.now),
            rows=attrs.get("hung", ()),
            taken_down=attrs.get("taken_down", ()),
            user=self.context["request"].user,
        )
        return list(live.rows) if hung is None else hung


def zones_tried(live: LiveLight, sent: list[dict] | None) -> tuple[OriginalZone, ...]:
    """Return the zones that were sent, by the form of the page; the usual ones where none were."""
    fields, hours = QueryDict(mutable=True), hours_of(live)
    if sent:
        fields.update(zones_query([(one["zone"], None) for one in sent], CM))
    rows = zone_rows(fields, live.tank, CM, full_hours=hours)
    if rows.is_bound and not rows.is_valid():
        raise ValidationError(zone_problems(rows))
    return zones_of(rows, live.tank, full_hours=hours)


class KeptWhatIfSerializer(WhatIfSerializer):
    """Another rig over a tank, to be kept as a plan of it."""

    name = serializers.CharField(
        required=False,
        max_length=NAME_CHARS,
        help_text="Named after what it changes, if left out.",
    )
    notes = serializers.CharField(required=False, allow_blank=True, max_length=NOTES_CHARS)


class TriedCoralSerializer(serializers.Serializer):
    """A coral's light at the day's peak, now and then."""

    coral = serializers.IntegerField(source="coral.pk")
    name = serializers.CharField(source="coral.name")
    now_umol = serializers.FloatField(source="now.par_umol")
    then_umol = serializers.FloatField(source="then.par_umol")
    then_low_umol = serializers.FloatField(source="then.low_umol")
    then_high_umol = serializers.FloatField(source="then.high_umol")


class ZoneShareSerializer(serializers.Serializer):
    """How much of a zone lies in its band, now and then."""

    name = serializers.CharField(source="zone")
    low_umol = serializers.FloatField()
    high_umol = serializers.FloatField()
    now_percent = serializers.FloatField()
    then_percent = serializers.FloatField()


class TriedWhatIfSerializer(serializers.Serializer):
    """What a rig would give."""

    name = serializers.CharField(help_text="What it would be called as a plan.")
    depth_cm = serializers.FloatField()
    ratio = serializers.FloatField(
        allow_null=True,
        help_text="Mean light at that depth, as a multiple of today’s; null in the dark.",
    )
    corals = TriedCoralSerializer(many=True)
    zones = ZoneShareSerializer(many=True)


def tried_row(tried: TriedRig, name: str) -> dict[str, object]:
    """Return a TriedRig as it is answered."""
    changed = tried.changed
    return {
        "name": name,
        "depth_cm": tried.depth_cm,
        "ratio": changed.ratio,
        "corals": changed.corals,
        "zones": changed.zones,
    }


def named(plan: Plan, sent: dict, usual: str) -> Plan:
    """Return a plan with the name and notes that were sent, by the form of the page."""
    form = PlanNameForm(
        {"name": sent.get("name", usual), "notes": sent.get("notes", "")}, instance=plan
    )
    if not form.is_valid():
        raise serializers.ValidationError({n: list(texts) for n, texts in form.errors.items()})
    return form.instance
