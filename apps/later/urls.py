from django.urls import path

from apps.later import views

urlpatterns = [
    path("jobs/<uuid:key>/", views.job_page, name="job_page"),
    path("jobs/<uuid:key>/file/", views.job_file, name="job_file"),
]
