"""Accounts in the site administration."""

from django.contrib import admin

from apps.accounts.models import User


@admin.register(User)
class UserAdmin(admin.ModelAdmin):
    list_display = ["email", "display_name", "is_staff", "date_joined"]
    search_fields = ["email", "display_name"]
    fields = [
        "email",
        "display_name",
        "units",
        "theme",
        "time_zone",
        "currency",
        "is_active",
        "is_staff",
        "is_superuser",
        "last_login",
        "date_joined",
    ]
    readonly_fields = ["last_login", "date_joined"]
