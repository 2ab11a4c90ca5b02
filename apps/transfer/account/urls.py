from django.urls import path

from apps.transfer.account import views

urlpatterns = [path("settings/delete/", views.account_delete, name="account_delete")]
