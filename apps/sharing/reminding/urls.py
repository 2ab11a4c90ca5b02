from django.urls import path

from apps.sharing.reminding import views

urlpatterns = [
    path("settings/reminders/", views.reminders, name="reminders"),
    path("reminders/off/<str:token>/", views.reminders_off, name="reminders_off"),
]
