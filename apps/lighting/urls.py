from django.urls import path

from apps.lighting import views

urlpatterns = [
    path("tanks/<int:tank_pk>/light/", views.light_change_list, name="light_change_list"),
]
