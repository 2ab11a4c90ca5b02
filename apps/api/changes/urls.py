from django.urls import path

from apps.api.changes.views import ChangesView

urlpatterns = [path("changes/", ChangesView.as_view(), name="api-changes")]
