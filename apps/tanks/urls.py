from django.urls import path

from apps.tanks import views

urlpatterns = [
    path("tanks/", views.tank_list, name="tank_list"),
    path("tanks/<int:tank_pk>/", views.tank_detail, name="tank_detail"),
]
