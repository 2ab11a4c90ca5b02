"""Who is let in to a tank, in JSON: people, invitations, offers of it, clubs that see it."""

from django.core.exceptions import ValidationError as Unsound
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.api.clubs.serializers import KeeperSerializer
from apps.clubs.models import Club
from apps.common.links.link_api import TellsAddress
from apps.common.programs.serializers import RefusesUnknown, WholeModelSerializer, api_messages
from apps.tanks.models import Invitation, Membership
from apps.tanks.people.joining import invite
from apps.tanks.showing.forms import CHOICES
from apps.tanks.showing.showing import show

OWNER = ("owner", "owner: it becomes yours")
OFFERED = [*Membership.Role.choices, OWNER]


class PersonSerializer(WholeModelSerializer):
    """Another keeper's way in to a tank, and what they may do there."""

    keeper = KeeperSerializer(source="user", read_only=True)

    class Meta:
        model = Membership
        fields = ["id", "keeper", "role", "created_at"]
        read_only_fields = ["created_at"]


class OpenInvitationSerializer(TellsAddress, WholeModelSerializer):
    """What invitations of both kinds share; the view passes the tank and the token as "fixed"."""

    opens = "invitation_open"

    def create(self, validated_data: dict[str, object]) -> Invitation:
        invitation = Invitation(**validated_data, **self.context["fixed"])
        try:
            invite(invitation=invitation)
        except Unsound as problem:
            raise serializers.ValidationError(api_messages(problem)) from None
        return invitation


class InvitationSerializer(OpenInvitationSerializer):
    """An open invitation to a tank. Who has its address accepts it, once."""

    class Meta:
        model = Invitation
        fields = ["id", "email", "role", "address", "created_at", "expires_at"]
        read_only_fields = ["created_at", "expires_at"]


class TankOfferSerializer(OpenInvitationSerializer):
    """An open offer of a tank: who accepts it becomes the owner."""

    class Meta:
        model = Invitation
        fields = ["id", "email", "owner_stays", "address", "created_at", "expires_at"]
        read_only_fields = ["created_at", "expires_at"]
        extra_kwargs = {
            "owner_stays": {"help_text": "You stay as a co-keeper. If left out, you lose access."}
        }


class ReceivedInvitationSerializer(serializers.ModelSerializer):
    """An invitation to you: to whose tank, and what you would be there."""

    tank_name = serializers.CharField(source="tank.name")
    owner = serializers.CharField(
        source="tank.owner.shown_name", help_text="The name they show to others."
    )
    role = serializers.SerializerMethodField()

    class Meta:
        model = Invitation
        fields = ["id", "tank_name", "owner", "role", "created_at", "expires_at"]
        read_only_fields = fields

    @extend_schema_field(serializers.ChoiceField(OFFERED))
    def get_role(self, invitation: Invitation) -> str:
        return OWNER[0] if invitation.hands_over else str(invitation.role)


class ClubSightSerializer(RefusesUnknown, serializers.ModelSerializer):
    """A club of yours, and what its members see of a tank."""

    sees = serializers.ChoiceField(CHOICES)

    class Meta:
        model = Club
        fields = ["id", "name", "sees"]
        read_only_fields = ["name"]

    def update(self, club: Club, validated_data: dict[str, str]) -> Club:
        club.sees = validated_data.get("sees", club.sees)
        show(tank=self.context["tank"], club=club, what=club.sees)
        return club
