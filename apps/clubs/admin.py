"""Clubs in the site administration."""

from django.contrib import admin
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest

from apps.clubs.leaving import close
from apps.clubs.models import Club, Membership


class MembershipInline(admin.TabularInline):
    """Who is in a club; more may be let in.

    Who leaves, and who leads, is for the club's own page: it leaves no club without an officer and
    takes along what the one who goes had shared.
    """

    model = Membership
    extra = 1
    raw_id_fields = ["user"]

    def has_change_permission(self, request: HttpRequest, obj: object = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: object = None) -> bool:
        return False


@admin.register(Club)
class ClubAdmin(admin.ModelAdmin):
    """Clubs by name; one that is deleted is closed first, as its last officer would close it."""

    list_display = ["name", "created_at"]
    search_fields = ["name"]
    inlines = [MembershipInline]

    def delete_model(self, request: HttpRequest, obj: Club) -> None:
        self.delete_queryset(request, Club.objects.filter(pk=obj.pk))

    @transaction.atomic
    def delete_queryset(self, request: HttpRequest, queryset: QuerySet[Club]) -> None:
        for club in queryset.order_by("pk"):
            close(club=club, by=None)
        super().delete_queryset(request, queryset)
