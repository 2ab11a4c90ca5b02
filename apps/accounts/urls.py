from django.urls import path

from apps.accounts import inviting, views

urlpatterns = [
    path("settings/", views.settings_edit, name="settings_edit"),
    path("accounts/invited/<str:token>/", inviting.sign_up_invited, name="sign_up_invited"),
]
