from django.urls import path

from apps.surveys import (
    channel_views,
    cross_check_views,
    entry_views,
    import_views,
    log_views,
    map_views,
    meter_views,
    offline_views,
    plan_views,
    reading_views,
    views,
)

urlpatterns = [
    path("tanks/<int:tank_pk>/map/", map_views.light_map, name="light_map"),
    path("tanks/<int:tank_pk>/logger/", log_views.log_list, name="log_list"),
    path("tanks/<int:tank_pk>/logger/new/", log_views.log_new, name="log_new"),
    path("logger/<int:log_pk>/", log_views.log_detail, name="log_detail"),
    path("logger/<int:log_pk>/remove/", log_views.log_remove, name="log_remove"),
    path("logger/<int:log_pk>/restore/", log_views.log_restore, name="log_restore"),
    path("tanks/<int:tank_pk>/channels/", channel_views.channel_mix, name="channel_mix"),
    path(
        "surveys/<int:survey_pk>/cross-check/",
        cross_check_views.survey_cross_check,
        name="survey_cross_check",
    ),
    path("tanks/<int:tank_pk>/surveys/", views.survey_list, name="survey_list"),
    path("tanks/<int:tank_pk>/surveys/new/", views.survey_new, name="survey_new"),
    path("surveys/<int:survey_pk>/", views.survey_detail, name="survey_detail"),
    path("surveys/<int:survey_pk>/edit/", views.survey_edit, name="survey_edit"),
    path("surveys/<int:survey_pk>/remove/", views.survey_remove, name="survey_remove"),
    path("surveys/<int:survey_pk>/restore/", views.survey_restore, name="survey_restore"),
    path("surveys/<int:survey_pk>/export/", views.survey_export, name="survey_export"),
    path(
        "surveys/<int:survey_pk>/readings/", reading_views.survey_readings, name="survey_readings"
    ),
    path(
        "surveys/<int:survey_pk>/readings/undo/<int:version>/",
        reading_views.survey_readings_undo,
        name="survey_readings_undo",
    ),
    path("surveys/<int:survey_pk>/plan/", plan_views.survey_plan, name="survey_plan"),
    path("surveys/<int:survey_pk>/plan/sheet/", plan_views.survey_sheet, name="survey_sheet"),
    path(
        "surveys/<int:survey_pk>/plan/<int:number>/remove/",
        plan_views.planned_point_remove,
        name="planned_point_remove",
    ),
    path("surveys/enter/", entry_views.entry_shell, name="entry_shell"),
    path("surveys/<int:survey_pk>/enter/", entry_views.survey_enter, name="survey_enter"),
    path("surveys/<int:survey_pk>/sync/", entry_views.survey_sync, name="survey_sync"),
    path("service-worker.js", offline_views.service_worker, name="service_worker"),
    path("manifest.webmanifest", offline_views.manifest, name="manifest"),
    path("surveys/<int:survey_pk>/import/", import_views.survey_import, name="survey_import"),
    path("meters/", meter_views.meter_list, name="meter_list"),
    path("meters/new/", meter_views.meter_new, name="meter_new"),
    path("meters/<int:meter_pk>/edit/", meter_views.meter_edit, name="meter_edit"),
    path("meters/<int:meter_pk>/remove/", meter_views.meter_remove, name="meter_remove"),
    path("meters/<int:meter_pk>/restore/", meter_views.meter_restore, name="meter_restore"),
]
