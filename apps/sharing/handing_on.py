"""Links that end when a tank gets another owner: none that its first owner made opens it then."""

from collections.abc import Iterator

from django.utils import timezone

from apps.accounts.models import User
from apps.sharing.models import CalendarLink, PlanLink, ShareLink
from apps.tanks.models import Tank


def end_links(tank: Tank, to: User) -> Iterator[str]:
    """Revoke all links of a tank and its plans; yield how many, in words."""
    now = timezone.now()
    links = [ShareLink.objects.filter(tank=tank), PlanLink.objects.filter(plan__tank=tank)]
    count = sum(rows.filter(revoked_at=None).update(revoked_at=now) for rows in links)
    CalendarLink.objects.filter(tank=tank, keeper=tank.owner).delete()
    if count:
        yield f"{count} link{'' if count == 1 else 's'} revoked"
