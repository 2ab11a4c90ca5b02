from django.urls import path

from apps.transfer.archive import views

urlpatterns = [
    path("tanks/<int:pk>/export.zip", views.tank_export, name="tank_export"),
    path("settings/account.zip", views.account_export, name="account_export"),
    path("bring-in/", views.tank_import, name="tank_import"),
    path("bring-in/<uuid:key>/", views.tank_import_preview, name="tank_import_preview"),
]
