from django.urls import include, path
from rest_framework.routers import SimpleRouter

from apps.api import layout_views, light_views, plan_views, tank_views, views
from apps.api.docs_views import SchemaView, api_docs

top = SimpleRouter()
top.register("tanks", tank_views.TankViewSet, basename="api-tank")
top.register("meters", views.MeterViewSet, basename="api-meter")
top.register("fixtures", light_views.FixtureViewSet, basename="api-fixture")
top.register("plans", plan_views.PlanViewSet, basename="api-plan")

of_meter = SimpleRouter()
of_meter.register("checks", views.MeterCheckViewSet, basename="api-meter-check")

of_tank = SimpleRouter()
of_tank.register("rocks", views.RockViewSet, basename="api-rock")
of_tank.register("light-changes", light_views.LightChangeViewSet, basename="api-light-change")
of_tank.register("day-curves", light_views.DayCurveViewSet, basename="api-day-curve")
of_tank.register("surveys", views.SurveyViewSet, basename="api-survey")
of_tank.register("corals", views.CoralViewSet, basename="api-coral")
of_tank.register("water-events", views.WaterEventViewSet, basename="api-water-event")

of_coral = SimpleRouter()
of_coral.register("spots", views.SpotViewSet, basename="api-spot")
of_coral.register("notes", views.HealthNoteViewSet, basename="api-note")
of_coral.register("sizes", views.CoralSizeViewSet, basename="api-coral-size")
of_coral.register("colours", views.PhotoColourViewSet, basename="api-photo-colour")

urlpatterns = [
    path("schema/", SchemaView.as_view(), name="api-schema"),
    path("docs/", api_docs, name="api_docs"),
    path("", include("apps.api.changes.urls")),
    path("", include("apps.api.clubs.urls")),
    path("", include("apps.api.deleted.urls")),
    path("", include("apps.api.people.urls")),
    path("", include("apps.api.pool.urls")),
    path("find-layout/", layout_views.FindLayoutView.as_view(), name="api-find-layout"),
    path("", include(top.urls)),
    path("meters/<int:meter_pk>/", include(of_meter.urls)),
    path("tanks/<int:tank_pk>/", include("apps.api.answers.urls")),
    path("tanks/<int:tank_pk>/", include("apps.api.history.urls")),
    path("tanks/<int:tank_pk>/", include("apps.api.logger.urls")),
    path("tanks/<int:tank_pk>/", include("apps.api.steps.urls")),
    path("tanks/<int:tank_pk>/", include("apps.api.what_if.urls")),
    path("tanks/<int:tank_pk>/surveys/<int:survey_pk>/", include("apps.api.surveys.urls")),
    path("tanks/<int:tank_pk>/", include(of_tank.urls)),
    path("tanks/<int:tank_pk>/corals/<int:coral_pk>/", include("apps.api.photos.urls")),
    path("tanks/<int:tank_pk>/corals/<int:coral_pk>/", include(of_coral.urls)),
]
