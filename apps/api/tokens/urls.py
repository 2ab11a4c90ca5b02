from django.urls import path

from apps.api.tokens import views as token_views
from apps.api.tokens.me_views import MeView

urlpatterns = [
    path("api/v1/me/", MeView.as_view(), name="api-me"),
    path("settings/tokens/", token_views.token_list, name="token_list"),
    path("settings/tokens/new/", token_views.token_new, name="token_new"),
    path("settings/tokens/<slug:token_key>/revoke/", token_views.token_revoke, name="token_revoke"),
]
