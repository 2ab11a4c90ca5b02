"""Addresses of this room."""

from django.urls import include, path
from rest_framework.routers import SimpleRouter

from apps.api.people import answer_views, club_views, invitation_views, people_views

top = SimpleRouter()
top.register(
    "invitations", answer_views.ReceivedInvitationViewSet, basename="api-received-invitation"
)

of_tank = SimpleRouter()
of_tank.register("clubs", club_views.TankClubViewSet, basename="api-tank-club")
of_tank.register("hand-overs", invitation_views.TankOfferViewSet, basename="api-hand-over")
of_tank.register("invitations", invitation_views.InvitationViewSet, basename="api-invitation")
of_tank.register("people", people_views.PersonViewSet, basename="api-person")

urlpatterns = [
    path("", include(top.urls)),
    path("tanks/<int:tank_pk>/", include(of_tank.urls)),
]
