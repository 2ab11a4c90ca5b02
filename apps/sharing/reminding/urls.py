from django.urls import path

from apps.sharing.reminding import views

urlpatterns = [
    path("settings/reminders/", views.reminders, name="reminders"),
    path("settings/reminders/browsers/", views.push_browser_add, name="push_browser_add"),
    path(
        "settings/reminders/browsers/<int:browser_pk>/remove/",
        views.push_browser_remove,
        name="push_browser_remove",
    ),
    path("reminders/off/<str:token>/", views.reminders_off, name="reminders_off"),
]
