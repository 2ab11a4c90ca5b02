from django.urls import path

from apps.hosting.pages import reports, views

urlpatterns = [
    path("privacy/", views.privacy, name="privacy"),
    path("robots.txt", views.robots, name="robots"),
    path(".well-known/security.txt", views.security_txt, name="security_txt"),
    path("policy-reports/", reports.take_report, name="policy_report"),
]
