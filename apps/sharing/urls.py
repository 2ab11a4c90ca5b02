from django.urls import path

from apps.sharing import views

urlpatterns = [
    path("tanks/<int:tank_pk>/sharing/", views.share_link_list, name="share_link_list"),
]
