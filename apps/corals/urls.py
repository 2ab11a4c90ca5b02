from django.urls import path

from apps.corals import views

urlpatterns = [
    path("tanks/<int:tank_pk>/corals/", views.coral_list, name="coral_list"),
]
