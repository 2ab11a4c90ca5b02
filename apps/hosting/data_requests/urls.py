from django.urls import path

from apps.hosting.data_requests import views

urlpatterns = [
    path("settings/data-requests/", views.data_requests, name="data_requests"),
    path("site/requests/<int:request_pk>/", views.site_request, name="site_request"),
]
