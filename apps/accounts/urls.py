from django.urls import path

from apps.accounts import views

urlpatterns = [path("settings/", views.settings_edit, name="settings_edit")]
