"""What tanks show together, for programs: an owner's word that theirs count, and its end."""

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from apps.api.pool.serializers import ClubPoolSerializer, TankPoolSerializer
from apps.clubs.access import readable_club
from apps.clubs.models import Club
from apps.outcomes.models import PoolShare
from apps.outcomes.pool.agreeing import count_among_others, count_no_more
from apps.outcomes.pool.clubs import agree, tanks_counting, tanks_to_offer
from apps.tanks.access import owned_tank, readable_tank


class TankPoolView(APIView):
    """Whether a tank counts among all others. Its owner alone says so."""

    @extend_schema(
        summary="Read whether a tank counts among others",
        responses=TankPoolSerializer,
    )
    def get(self, request: Request, tank_pk: int) -> Response:
        """Say whether the tank counts in what all such tanks show together, and since when."""
        tank = readable_tank(request.user, tank_pk)
        share = PoolShare.objects.filter(tank=tank).first()
        return how_it_counts(share)

    @extend_schema(
        summary="Let a tank count among others",
        description="Agree that the tank counts in what all such tanks show together, from "
        "the next night on. No single tank can be seen. Repeating it changes "
        "nothing.",
        request=None,
        responses=TankPoolSerializer,
    )
    def post(self, request: Request, tank_pk: int) -> Response:
        tank = owned_tank(request.user, tank_pk)
        share = count_among_others(tank=tank, by=request.user)
        return how_it_counts(share)

    @extend_schema(
        summary="Stop counting a tank",
        description="Withdraw your consent: nothing of the tank stays in the totals, nor "
        "in those of a club.",
        request=None,
        responses={204: None},
    )
    def delete(self, request: Request, tank_pk: int) -> Response:
        count_no_more(tank=owned_tank(request.user, tank_pk))
        return Response(status=204)


def how_it_counts(share: PoolShare | None) -> Response:
    """Return the answer that says whether a tank counts, by its owner's word if there is one."""
    since = share and share.agreed_at
    return Response(TankPoolSerializer({"counts": since is not None, "agreed_at": since}).data)


class ClubPoolView(APIView):
    """Which tanks of a member's own count in a club."""

    @extend_schema(
        summary="Read which tanks of yours count in a club", responses=ClubPoolSerializer
    )
    def get(self, request: Request, club_pk: int) -> Response:
        """List the tanks of yours that count in what the club's tanks show together."""
        return Response(self.counting(readable_club(request.user, club_pk)).data)

    @extend_schema(
        summary="Set which tanks of yours count in a club",
        description="Only these of your tanks count. A tank must count among all others "
        "before it can count in a club.",
        request=ClubPoolSerializer,
        responses=ClubPoolSerializer,
        examples=[OpenApiExample("One tank", {"tanks": [12]}, request_only=True)],
    )
    def put(self, request: Request, club_pk: int) -> Response:
        club = readable_club(request.user, club_pk)
        serializer = self.counting(club, data=request.data)
        serializer.is_valid(raise_exception=True)
        agree(club=club, user=request.user, tanks=serializer.validated_data["tanks"])
        return Response(self.counting(club).data)

    def counting(self, club: Club, **sent: object) -> ClubPoolSerializer:
        """Return the serializer of a member's tanks that count, and of what was sent of them."""
        offered = list(tanks_to_offer(self.request.user))
        row = {
            "tanks": tanks_counting(club=club, user=self.request.user),
            "may_count": [tank.pk for tank in offered],
        }
        return ClubPoolSerializer(row, context={"offered": offered}, **sent)
