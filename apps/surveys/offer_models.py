"""A survey that an officer of a club took for a member, waiting for the member to take it."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F

from apps.accounts.models import User
from apps.clubs.models import Club


class SurveyOfferQuerySet(models.QuerySet):
    def waiting_for(self, user: User) -> Self:
        """The offers to a member that stand: both are in the open club, the survey is there."""
        mine = self.filter(to=user, club__in=Club.objects.visible_to(user))
        return mine.filter(
            club__memberships__user=F("offered_by"),
            survey__removed_at__isnull=True,
            survey__tank__removed_at__isnull=True,
        ).select_related("survey__tank", "survey__meter", "offered_by", "club")


class SurveyOffer(models.Model):
    """Gone as soon as the member took the survey into a tank of theirs, or declined."""

    # No page of a tank shows it (`tanks/kept_pages`).
    UNSHOWN = True

    survey = models.ForeignKey("surveys.Survey", on_delete=models.CASCADE, related_name="offers")
    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="+")
    to = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="survey_offers"
    )
    offered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+"
    )
    offered_at = models.DateTimeField(auto_now_add=True)

    objects = SurveyOfferQuerySet.as_manager()

    class Meta:
        ordering = ["offered_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["survey", "to"], name="survey_offered_once_a_member")
        ]

    def __str__(self) -> str:
        return f"The survey of {self.survey.day():%-d %b %Y} for {self.to}"
