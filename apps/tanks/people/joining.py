"""Inviting people to a tank, and their coming in."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from apps.tanks.access import hold_tank, hold_tanks
from apps.tanks.models import INVITATIONS_OPEN_MAX, Invitation, Membership
from apps.tanks.people.handing_over import hand_over


@transaction.atomic
def invite(*, invitation):
    """Save an unsaved, valid invitation in place of older ones to the same address.

    Raises ValidationError when the tank has as many open invitations as it may, Http404 when it is
    gone.
    """
    # One at a time for a tank, so that the count below holds.
    hold_tank(invitation.tank_id)
    open_ones = Invitation.objects.open_now().filter(tank=invitation.tank_id)
    open_ones.filter(email__iexact=invitation.email).update(closed_at=timezone.now())
    if open_ones.count() >= INVITATIONS_OPEN_MAX:
        raise ValidationError(
            f"{INVITATIONS_OPEN_MAX} invitations are open already. Call one back first."
        )
    invitation.save()


@transaction.atomic
def accept_invitation(*, invitation, user):
    """Let `user` in with the invitation's role, or as the owner, and close it; two taps do it once.

    Returns the tank, or None when the invitation was closed, or its tank deleted, in the meantime.
    Someone already in gets the role of the newer invitation.
    """
    # The tank first, as whoever invites or hands it over does: none waits for the other for ever.
    hold_tanks([invitation.tank_id])
    open_ones = Invitation.objects.select_for_update(no_key=True).open_now()
    held = open_ones.filter(pk=invitation.pk).first()
    if held is None or held.tank.owner_id == user.pk:
        return None
    if held.hands_over:
        hand_over(tank=held.tank, to=user, stays=held.owner_stays)
    else:
        Membership.objects.update_or_create(tank=held.tank, user=user, defaults={"role": held.role})
    held.close()
    return held.tank
