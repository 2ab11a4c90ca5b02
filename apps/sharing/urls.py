from django.urls import include, path
from rest_framework.routers import SimpleRouter

from apps.sharing import (
    calendar_views,
    comment_api,
    comment_views,
    link_api,
    open_views,
    plan_views,
    views,
)

of_tank = SimpleRouter()
of_tank.register("share-links", link_api.ShareLinkViewSet, basename="api-share-link")
of_tank.register("comments", comment_api.CommentViewSet, basename="api-share-link-comment")

urlpatterns = [
    path("api/v1/tanks/<int:tank_pk>/", include(of_tank.urls)),
    path(
        "api/v1/tanks/<int:tank_pk>/calendar-link/", link_api.CalendarLinkView.as_view(),
        name="api-calendar-link",
    ),
    path("tanks/<int:tank_pk>/sharing/", views.share_link_list, name="share_link_list"),
    path("tanks/<int:tank_pk>/sharing/new/", views.share_link_new, name="share_link_new"),
    path("sharing/<int:link_pk>/revoke/", views.share_link_revoke, name="share_link_revoke"),
    path("sharing/<int:link_pk>/prolong/", views.share_link_prolong, name="share_link_prolong"),
    path("s/<str:token>/", open_views.shared_map, name="shared_map"),
    path("s/<str:token>/unlock/", open_views.shared_unlock, name="shared_unlock"),
    path("s/<str:token>/preview.png", open_views.shared_preview, name="shared_preview"),
    path("s/<str:token>/photos/<uuid:key>/", open_views.shared_photo, name="shared_photo"),
    path(
        "s/<str:token>/photos/<uuid:key>/small/",
        open_views.shared_photo,
        {"size": "thumbnail"},
        name="shared_photo_small",
    ),
    path("s/<str:token>/comments/", comment_views.shared_comment_new, name="shared_comment_new"),
    path(
        "s/<str:token>/comments/<int:comment_pk>/report/", comment_views.shared_comment_report,
        name="shared_comment_report",
    ),
    path(
        "s/<str:token>/comments/<int:comment_pk>/delete/", comment_views.shared_comment_remove,
        name="shared_comment_remove",
    ),
    path("sharing/comments/<int:comment_pk>/hide/", comment_views.comment_hide,
         name="comment_hide"),
    path("sharing/comments/<int:comment_pk>/delete/", comment_views.comment_remove,
         name="comment_remove"),
    path("plans/<int:plan_pk>/sharing/", plan_views.plan_link_list, name="plan_link_list"),
    path("plans/<int:plan_pk>/sharing/new/", plan_views.plan_link_new, name="plan_link_new"),
    path(
        "plans/sharing/<int:link_pk>/revoke/", plan_views.plan_link_revoke, name="plan_link_revoke"
    ),
    path("p/<str:token>/", plan_views.shared_plan, name="shared_plan"),
    path("p/<str:token>/unlock/", plan_views.shared_plan_unlock, name="shared_plan_unlock"),
    path("p/<str:token>/take/", plan_views.shared_plan_take, name="shared_plan_take"),
    path(
        "p/<str:token>/answers/<int:number>/", plan_views.shared_plan_answer,
        name="shared_plan_answer",
    ),
    path("tanks/<int:tank_pk>/calendar/", calendar_views.calendar_link, name="calendar_link"),
    path(
        "tanks/<int:tank_pk>/calendar/new/", calendar_views.calendar_link_new,
        name="calendar_link_new",
    ),
    path(
        "tanks/<int:tank_pk>/calendar/close/", calendar_views.calendar_link_close,
        name="calendar_link_close",
    ),
    path("", include("apps.sharing.plans.urls")),
    path("", include("apps.sharing.reminding.urls")),
    path("c/<str:token>/steps.ics", calendar_views.open_calendar, name="open_calendar"),
]  # fmt: skip
