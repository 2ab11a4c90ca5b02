from django.urls import path

from apps.later import views

urlpatterns = [path("jobs/<uuid:key>/", views.job_page, name="job_page")]
