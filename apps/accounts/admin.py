"""Accounts in the site administration."""

from django.contrib import admin
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest

from apps.accounts.ending import delete_account, shut_out
from apps.accounts.models import User


@admin.register(User)
class UserAdmin(admin.ModelAdmin):
    """Accounts by address; one that is deleted goes as if its keeper had asked for it."""

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
    actions = ["sign_out_everywhere"]

    @admin.action(description="Sign out everywhere, revoke API tokens", permissions=["change"])
    def sign_out_everywhere(self, request: HttpRequest, queryset: QuerySet[User]) -> None:
        users = list(queryset)
        shut_out(users)
        self.message_user(request, f"Signed out: {', '.join(user.email for user in users)}")

    def delete_model(self, request: HttpRequest, obj: User) -> None:
        delete_account(obj)

    @transaction.atomic
    def delete_queryset(self, request: HttpRequest, queryset: QuerySet[User]) -> None:
        for user in queryset.order_by("pk"):
            delete_account(user)
