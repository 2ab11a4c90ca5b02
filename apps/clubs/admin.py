"""Clubs in the site administration."""

from django.contrib import admin
from django.http import HttpRequest

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
    list_display = ["name", "created_at"]
    search_fields = ["name"]
    inlines = [MembershipInline]
