"""Every address of the site."""

from allauth.account.decorators import secure_admin_login
from django.contrib import admin
from django.urls import include, path

from reeflog.views import home, tank_export

# Before admin.site.urls is read: sends the admin's sign-in through the throttled one.
admin.site.login = secure_admin_login(admin.site.login)

urlpatterns = [
    path("", home, name="home"),
    path("accounts/", include("allauth.urls")),
    path("admin/", admin.site.urls),
    path("", include("apps.accounts.urls")),
    path("tanks/<int:pk>/export.zip", tank_export, name="tank_export"),
    path("", include("apps.tanks.urls")),
    path("", include("apps.lighting.urls")),
    path("", include("apps.surveys.urls")),
    path("", include("apps.corals.urls")),
    path("", include("apps.outcomes.urls")),
    path("", include("apps.planning.urls")),
    path("", include("apps.sharing.urls")),
    path("", include("apps.api.token_urls")),
    path("api/v1/", include("apps.api.urls")),
]

handler500 = "reeflog.views.server_error"
