"""Comments that were reported, for whoever runs the installation."""

from django.contrib import admin

from apps.sharing.models import Comment, CommentReport


class ReportInline(admin.TabularInline):
    model = CommentReport
    extra = 0
    raw_id_fields = ["reporter"]


@admin.register(Comment)
class CommentAdmin(admin.ModelAdmin):
    list_display = ["author", "text", "created_at", "hidden_at"]
    raw_id_fields = ["link", "author"]
    inlines = [ReportInline]
