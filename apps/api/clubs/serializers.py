"""Clubs in JSON: who belongs to one, its meters, and who has each."""

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.models import User
from apps.api.serializers import MeterSerializer
from apps.clubs.access import is_officer
from apps.clubs.leaving import others_in
from apps.clubs.models import Block, Club, ClubLink, Membership
from apps.common.links.link_api import SecretLinkSerializer
from apps.common.programs.serializers import RefusesUnknown, WholeModelSerializer
from apps.surveys.lending.forms import UNTIL_MOST
from apps.surveys.lending.lending import LendingList, lending_list, may_hand
from apps.surveys.models import Meter, MeterLoan

UNTIL_BETWEEN = "From today to a year from now, please."


class ClubSerializer(WholeModelSerializer):
    """A club you are in."""

    role = serializers.SerializerMethodField(help_text="Your role in it.")

    class Meta:
        model = Club
        fields = ["id", "name", "role", "created_at"]
        read_only_fields = ["created_at"]

    @extend_schema_field(serializers.ChoiceField(Membership.Role.choices))
    def get_role(self, club: Club) -> str:
        known = getattr(club, "leads", None)
        leads = is_officer(self.context["request"].user, club) if known is None else known
        return str(Membership.Role.OFFICER if leads else Membership.Role.MEMBER)


class KeeperSerializer(serializers.ModelSerializer):
    """A member, under the name they show to others."""

    name = serializers.CharField(source="shown_name", read_only=True)

    class Meta:
        model = User
        fields = ["id", "name"]
        read_only_fields = fields


class MembershipSerializer(RefusesUnknown, serializers.ModelSerializer):
    """A keeper's place in a club. To hand over a meter, send `keeper.id`."""

    keeper = KeeperSerializer(source="user", read_only=True)

    class Meta:
        model = Membership
        fields = ["id", "keeper", "role", "joined_at"]
        read_only_fields = ["joined_at"]


class BlockSerializer(serializers.ModelSerializer):
    """A keeper whom no link of the club lets in."""

    keeper = KeeperSerializer(source="user", read_only=True)

    class Meta:
        model = Block
        fields = ["id", "keeper", "blocked_at"]
        read_only_fields = fields


class ClubLinkSerializer(SecretLinkSerializer):
    """An address by which any number of keepers may join a club, until its last day."""

    opens = "club_join"

    class Meta:
        model = ClubLink
        fields = ["id", "label", "days", "address", "created_at", "expires_at", "revoked_at"]
        read_only_fields = ["created_at", "expires_at", "revoked_at"]
        extra_kwargs = {"label": {"help_text": "People who open the link don’t see it."}}


class LeavingSerializer(serializers.Serializer):
    """What leaving a club means for you."""

    is_last_officer = serializers.BooleanField(
        help_text="To leave, name a successor or close the club."
    )
    going_along = serializers.ListField(
        child=serializers.CharField(), help_text="What of yours leaves the club when you do."
    )


class LeaveClubSerializer(RefusesUnknown, serializers.Serializer):
    """Whom a last officer leaves the club to."""

    successor = serializers.PrimaryKeyRelatedField(
        queryset=Membership.objects.none(),
        required=False,
        allow_null=True,
        help_text="Only if you are the last officer: the `id` of the member who becomes officer.",
    )

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        if club := self.context.get("club"):
            fields["successor"].queryset = others_in(club, self.context["request"].user)
        return fields


class TurnSerializer(serializers.ModelSerializer):
    """A member's turn with a meter; `since` is null while they wait for it."""

    keeper = KeeperSerializer(read_only=True)

    class Meta:
        model = MeterLoan
        fields = ["keeper", "queued_at", "since", "until", "ended_on"]
        read_only_fields = fields


class LendingSerializer(serializers.Serializer):
    """Who has a meter, who waits for it in which order, and past turns."""

    held = TurnSerializer(allow_null=True, help_text="Null while it is with the club.")
    waiting = TurnSerializer(many=True)
    over = TurnSerializer(many=True, help_text="The latest, newest first.")
    may_hand = serializers.BooleanField(help_text="You may hand it over or return it.")


class ClubMeterSerializer(MeterSerializer):
    """A club's meter, and who has it. Its surveys follow its checks."""

    lending = serializers.SerializerMethodField()

    class Meta(MeterSerializer.Meta):
        fields = [*MeterSerializer.Meta.fields, "lending"]
        # Every club's does.
        read_only_fields = ["follows_checks"]

    @extend_schema_field(LendingSerializer)
    def get_lending(self, meter: Meter) -> dict[str, object]:
        lent: LendingList = lending_list(meter)
        leads = self.context["leads"]
        hands = may_hand(user=self.context["request"].user, lent=lent, leads=leads)
        return dict(LendingSerializer({**vars(lent), "may_hand": hands}).data)


class HandOverSerializer(RefusesUnknown, serializers.Serializer):
    """Who gets the meter."""

    to = serializers.PrimaryKeyRelatedField(
        queryset=User.objects.none(), help_text="A member: `keeper.id` in the club's members."
    )

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        if club := self.context.get("club"):
            fields["to"].queryset = User.objects.filter(club_memberships__club=club)
        return fields


class UntilSerializer(RefusesUnknown, serializers.Serializer):
    """When the current turn is to end."""

    until = serializers.DateField()

    def validate_until(self, until):
        today = self.context["today"]
        if not today <= until <= today + UNTIL_MOST:
            raise serializers.ValidationError(UNTIL_BETWEEN)
        return until
