from django.urls import path

from apps.api.answers.coral_views import CoralCaseView, CoralLightView, TankCasesView
from apps.api.answers.light_views import LightAtPointsView, LightPlaneView

urlpatterns = [
    path("light/", LightAtPointsView.as_view(), name="api-tank-light"),
    path("light/plane/", LightPlaneView.as_view(), name="api-tank-light-plane"),
    path("cases/", TankCasesView.as_view(), name="api-tank-cases"),
    path("corals/<int:coral_pk>/light/", CoralLightView.as_view(), name="api-coral-light"),
    path("corals/<int:coral_pk>/case/", CoralCaseView.as_view(), name="api-coral-case"),
]
