"""A saved plan: what was asked of the light, and the answer that was computed for it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.common.removal import Removable, RemovableQuerySet
from apps.planning.documents import check_document
from apps.planning.layout_documents import asked_from_json, state_from_json
from apps.tanks.models import Tank


class PlanQuerySet(RemovableQuerySet):
    def of_reader(self, user):
        """Plans a user may see, taken away or not: of tanks they see, and their own without one."""
        return self.filter(
            Q(tank__in=Tank.objects.visible_to(user)) | Q(tank__isnull=True, owner=user)
        )

    def visible_to(self, user):
        """Present plans of the tanks a user may see, and their own without a tank."""
        return self.present().of_reader(user)


class Plan(Removable):
    class Kind(models.TextChoices):
        LAYOUT = "layout", "layout"
        WHAT_IF = "what_if", "what if"

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="plans"
    )
    # None for a tank that is only dimensions yet.
    tank = models.ForeignKey(
        Tank, null=True, blank=True, on_delete=models.CASCADE, related_name="plans"
    )
    kind = models.CharField(max_length=7, choices=Kind)
    name = models.CharField(max_length=80)
    notes = models.TextField(max_length=4000, blank=True)
    # Each is {} or carries its own "version"; the modules of the kind read and write them.
    asked = models.JSONField(default=dict, blank=True, validators=[check_document])
    answer = models.JSONField(default=dict, blank=True, validators=[check_document])
    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    objects = PlanQuerySet.as_manager()

    class Meta:
        ordering = ["-changed_at", "-pk"]
        indexes = [models.Index(fields=["tank", "kind"], name="plan_by_tank")]

    def __str__(self):
        return self.name

    def clean(self):
        if self.kind == self.Kind.LAYOUT and self.asked:
            asked_from_json(self.asked)
            state_from_json(self.answer)
