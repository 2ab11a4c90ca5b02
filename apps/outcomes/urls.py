from django.urls import path

from apps.outcomes import pool_views, trial_views, views

urlpatterns = [
    path("tanks/<int:tank_pk>/outcomes/", views.outcome_list, name="outcome_list"),
    path("tanks/<int:tank_pk>/outcomes/across/", pool_views.pool_detail, name="pool_detail"),
    path("tanks/<int:tank_pk>/outcomes/across/agree/", pool_views.pool_agree, name="pool_agree"),
    path(
        "tanks/<int:tank_pk>/outcomes/across/withdraw/",
        pool_views.pool_withdraw,
        name="pool_withdraw",
    ),
    path("tanks/<int:tank_pk>/trials/", trial_views.trial_list, name="trial_list"),
    path("tanks/<int:tank_pk>/trials/new/", trial_views.trial_new, name="trial_new"),
    path("trials/<int:pk>/", trial_views.trial_detail, name="trial_detail"),
    path("trials/<int:pk>/resume/", trial_views.trial_resume, name="trial_resume"),
    path("trials/<int:pk>/stop/", trial_views.trial_stop, name="trial_stop"),
    path("trials/<int:pk>/unstop/", trial_views.trial_unstop, name="trial_unstop"),
    path("trials/<int:pk>/remove/", trial_views.trial_remove, name="trial_remove"),
    path("trials/<int:pk>/restore/", trial_views.trial_restore, name="trial_restore"),
    path("tanks/<int:tank_pk>/outcomes/report/", views.outcome_report, name="outcome_report"),
    path("tanks/<int:tank_pk>/outcomes/export/", views.outcome_export, name="outcome_export"),
    path(
        "tanks/<int:tank_pk>/outcomes/export/corals/",
        views.outcome_export_corals,
        name="outcome_export_corals",
    ),
    path("tanks/<int:tank_pk>/outcomes/weighing/", views.outcome_weighing, name="outcome_weighing"),
    path(
        "tanks/<int:tank_pk>/outcomes/<int:note_pk>/", views.outcome_detail, name="outcome_detail"
    ),
]
