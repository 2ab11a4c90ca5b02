from django.urls import path

from apps.surveys import map_views, views

urlpatterns = [
    path("tanks/<int:tank_pk>/map/", map_views.light_map, name="light_map"),
    path("tanks/<int:tank_pk>/surveys/", views.survey_list, name="survey_list"),
]
