"""Every address of the site."""

from allauth.account.decorators import secure_admin_login
from django.conf import settings
from django.contrib import admin
from django.urls import include, path
from django.views.generic import TemplateView

from apps.accounts.views import session_list
from reeflog import offline_views
from reeflog.views import home

# Before admin.site.urls is read: sends the admin's sign-in through the throttled one.
admin.site.login = secure_admin_login(admin.site.login)

urlpatterns = [
    path("", home, name="home"),
    # First, as what opens most often: addresses are tried one after another.
    path("", include("apps.sharing.urls")),
    path("glossary/", TemplateView.as_view(template_name="glossary.html"), name="glossary"),
    # Before allauth's own, which ends sessions without asking for the password.
    path("accounts/sessions/", session_list, name="usersessions_list"),
    path("accounts/", include("allauth.urls")),
    path(settings.ADMIN_PATH, admin.site.urls),
    path("", include("apps.accounts.urls")),
    path("", include("apps.common.searching.urls")),
    path("", include("apps.hosting.pages.urls")),
    path("", include("apps.hosting.site.urls")),
    path("", include("apps.hosting.data_requests.urls")),
    path("", include("apps.later.urls")),
    path("", include("apps.clubs.urls")),
    path("service-worker.js", offline_views.service_worker, name="service_worker"),
    path("manifest.webmanifest", offline_views.manifest, name="manifest"),
    path("", include("apps.tanks.urls")),
    path("", include("apps.tanks.ending.urls")),
    path("", include("apps.tanks.people.urls")),
    path("", include("apps.tanks.showing.urls")),
    path("", include("apps.lighting.change.urls")),
    path("", include("apps.lighting.day.urls")),
    path("", include("apps.lighting.fixture.urls")),
    path("", include("apps.lighting.offering.urls")),
    path("", include("apps.lightmap.page.urls")),
    path("", include("apps.lightmap.channels.urls")),
    path("", include("apps.surveys.meters.urls")),
    path("", include("apps.surveys.lending.urls")),
    path("", include("apps.surveys.handing.urls")),
    path("", include("apps.lightmap.check.urls")),
    path("", include("apps.surveys.survey.urls")),
    path("", include("apps.surveys.tables.urls")),
    path("", include("apps.lightmap.review.urls")),
    path("", include("apps.lightmap.compare.urls")),
    path("", include("apps.surveys.plan.urls")),
    path("", include("apps.surveys.entry.urls")),
    path("", include("apps.corals.coral.urls")),
    path("", include("apps.corals.photos.urls")),
    path("", include("apps.corals.notes.urls")),
    path("", include("apps.corals.water.urls")),
    path("", include("apps.corals.history.urls")),
    path("", include("apps.outcomes.association.urls")),
    path("", include("apps.outcomes.case.urls")),
    path("", include("apps.outcomes.pool.urls")),
    path("", include("apps.outcomes.report.urls")),
    path("", include("apps.outcomes.trial.urls")),
    path("", include("apps.planning.urls")),
    path("", include("apps.planning.acclimation.urls")),
    path("", include("apps.planning.layout.urls")),
    path("", include("apps.planning.place.urls")),
    path("", include("apps.planning.what_if.urls")),
    path("", include("apps.sharing.club.urls")),
    path("", include("apps.lightmap.export.urls")),
    path("", include("apps.transfer.account.urls")),
    path("", include("apps.transfer.archive.urls")),
    path("", include("apps.transfer.tables.urls")),
    path("", include("apps.api.tokens.urls")),
    path("api/v1/", include("apps.api.urls")),
]

handler404 = "reeflog.views.not_found"
handler500 = "reeflog.views.server_error"
