"""Clubs in the site administration."""

from django.contrib import admin

from apps.clubs.models import Club, Membership


class MembershipInline(admin.TabularInline):
    model = Membership
    extra = 1
    raw_id_fields = ["user"]


@admin.register(Club)
class ClubAdmin(admin.ModelAdmin):
    list_display = ["name", "created_at"]
    search_fields = ["name"]
    inlines = [MembershipInline]
