from django.urls import path

from apps.common.searching import views

urlpatterns = [path("search/", views.search, name="search")]
