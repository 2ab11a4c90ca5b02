from django.urls import include, path
from rest_framework.routers import SimpleRouter

from apps.later import views
from apps.later.job_api import JobViewSet

of_keeper = SimpleRouter(use_regex_path=False)
of_keeper.register("jobs", JobViewSet, basename="api-job")

urlpatterns = [
    path("api/v1/", include(of_keeper.urls)),
    path("jobs/<uuid:key>/", views.job_page, name="job_page"),
    path("jobs/<uuid:key>/file/", views.job_file, name="job_file"),
]
