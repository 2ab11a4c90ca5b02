from django.urls import path

from apps.api import token_views

urlpatterns = [
    path("settings/tokens/", token_views.token_list, name="token_list"),
    path("settings/tokens/new/", token_views.token_new, name="token_new"),
    path("settings/tokens/<slug:token_key>/revoke/", token_views.token_revoke, name="token_revoke"),
]
