"""The tank: a box of water, the rock in it, and the people who may see or change it."""

import datetime as dt

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Case, OuterRef, Q, Subquery, Value, When
from django.db.models.functions import Lower
from django.utils import timezone

from apps.accounts.models import validate_time_zone
from apps.common.removal import Removable, RemovableQuerySet
from apps.common.tokens import hash_token, new_token
from apps.common.units import format_length
from apps.common.validation import bounds, bounds_check, too_early, year_check
from apps.photics import limits
from apps.photics.ground import scene
from apps.photics.ground.lengths import CM
from apps.tanks.club_models import ShownTank
from apps.tanks.contents import outside_errors
from apps.tanks.kept_pages.models import RowChange as RowChange
from apps.tanks.kept_pages.models import TankStamp as TankStamp
from apps.tanks.shape.checking import scene_of, shape_errors
from apps.tanks.zones import zone_of

# Django looks for models here.
__all__ = ["Invitation", "Membership", "Rock", "ShownTank", "Tank"]

SIDE = (limits.TANK_SIDE_MIN_CM, limits.TANK_SIDE_MAX_CM)
DEPTH = (limits.TANK_DEPTH_MIN_CM, limits.TANK_DEPTH_MAX_CM)
ROCK_SIDE = (limits.ROCK_SIDE_MIN_CM, limits.TANK_SIDE_MAX_CM)
ROCK_HEIGHT = (limits.ROCK_SIDE_MIN_CM, limits.TANK_DEPTH_MAX_CM)
INSIDE = (0, limits.TANK_SIDE_MAX_CM)
BULGE = (0, limits.TANK_SIDE_MAX_CM)
COVER = (limits.COVER_TRANSMISSION_MIN, 1)
WINDOW_PAR = (limits.WINDOW_PAR_MIN_UMOL, limits.WINDOW_PAR_MAX_UMOL)
# Long enough to reach someone on holiday, short enough to be forgotten safely.
INVITATION_LIFE = dt.timedelta(days=14)
INVITATIONS_OPEN_MAX = 20


class TankQuerySet(RemovableQuerySet):
    def visible_to(self, user):
        """Tanks the user owns or was let in to."""
        return self._own_or(user, Membership.objects.filter(user_id=user.pk))

    def changeable_by(self, user):
        """Tanks the user may write to: their own, and those they co-keep."""
        co_kept = Membership.objects.filter(user_id=user.pk, role=Membership.Role.CO_KEEPER)
        return self._own_or(user, co_kept)

    def _own_or(self, user, memberships):
        # By two indexes: with the memberships joined, every tank of the site would be read.
        let_in = Q(pk__in=memberships.values("tank"))
        return self.present().filter(Q(owner_id=user.pk) | let_in)

    def owned_by(self, user):
        return self.present().filter(owner=user)

    def quota_problem(self, user):
        """Return why a keeper may have no further tank on this site; "" where they may."""
        most = settings.TANKS_MAX
        if not most or self.owned_by(user).count() < most:
            return ""
        return (
            f"This site allows one keeper {most} tanks, and you have them. "
            "Delete one first, or ask the site's host for more."
        )

    def with_role_of(self, user):
        """Add `role_of_reader`: "owner", or the role of the user's membership."""
        theirs = Membership.objects.filter(tank=OuterRef("pk"), user=user).values("role")[:1]
        return self.annotate(
            role_of_reader=Case(
                When(owner=user, then=Value("owner")),
                default=Subquery(theirs),
                output_field=models.CharField(),
            )
        )


class Tank(Removable):
    FOLLOWED = "id"

    class BackPane(models.TextChoices):
        CLEAR = "clear", "clear glass"
        DARK = "dark", "painted or dark"

    class Bottom(models.TextChoices):
        BARE = "bare", "bare"
        SAND = "sand", "sand"

    class Shape(models.TextChoices):
        BOX = "box", "box: straight panes at right angles"
        CYLINDER = "cylinder", "round: a cylinder"
        BOW = "bow", "bow front: the front pane bulges"
        OUTLINE = "outline", "by its corners: corner tank, half-moon, hexagon"

    class Side(models.TextChoices):
        FRONT = "front", "front"
        BACK = "back", "back"
        LEFT = "left", "left"
        RIGHT = "right", "right"

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="owned_tanks"
    )
    name = models.CharField(max_length=80)
    # Inside measures; depth is that of the water, not of the glass.
    length_cm = models.FloatField("length", validators=bounds(*SIDE))
    width_cm = models.FloatField("width, front to back", validators=bounds(*SIDE))
    depth_cm = models.FloatField("water depth", validators=bounds(*DEPTH))
    back_pane = models.CharField(max_length=5, choices=BackPane, default=BackPane.CLEAR)
    bottom = models.CharField(max_length=4, choices=Bottom, default=Bottom.SAND)
    # The sides above are those of the box around it. A bow front bulges by `bow_cm`, an outline
    # has corners [[x, y], ...] [cm]; what another shape needs is kept and not used.
    shape = models.CharField(max_length=8, choices=Shape, default=Shape.BOX)
    bow_cm = models.FloatField("bulge", null=True, blank=True, validators=bounds(*BULGE))
    outline_cm = models.JSONField("corners", default=list, blank=True)
    # Strips at the surface: x_cm, y_cm, length_cm, width_cm [cm] and transmission [1] of each.
    braces = models.JSONField(default=list, blank=True)
    # Share of all light from above that a lid or screen passes [1].
    cover_transmission = models.FloatField(
        "light the lid passes", default=1, validators=bounds(*COVER)
    )
    # Daylight: through which side, and the PAR just inside its middle [umol m-2 s-1].
    window_side = models.CharField("window", max_length=5, choices=Side, blank=True)
    window_par_umol = models.FloatField(
        "daylight", null=True, blank=True, validators=bounds(*WINDOW_PAR)
    )
    time_zone = models.CharField(max_length=64, default="UTC", validators=[validate_time_zone])
    # Where it stood before: [until this moment in UTC, name of the zone], ascending.
    earlier_zones = models.JSONField(default=list, blank=True, editable=False)
    # Blank while it runs. What was entered in it stays, and stays readable.
    ended_on = models.DateField("ended on", null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = TankQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            bounds_check("tank", "length_cm", *SIDE),
            bounds_check("tank", "width_cm", *SIDE),
            bounds_check("tank", "depth_cm", *DEPTH),
            bounds_check("tank", "bow_cm", *BULGE, null=True),
            bounds_check("tank", "cover_transmission", *COVER),
            bounds_check("tank", "window_par_umol", *WINDOW_PAR, null=True),
            year_check("tank", "ended_on", null=True),
        ]

    def __str__(self):
        return self.name

    def clean(self):
        if None in (self.length_cm, self.width_cm, self.depth_cm):
            return
        # Where the outline itself is wrong, nothing can lie outside it.
        errors = shape_errors(self) or (outside_errors(self) if self.pk else {})
        errors |= self.end_errors()
        if self._state.adding and (problem := Tank.objects.quota_problem(self.owner_id)):
            errors["name"] = problem
        if errors:
            raise ValidationError(errors)

    def end_errors(self):
        """Return {field: sentence} of an end that cannot be."""
        errors = too_early(ended_on=self.ended_on)
        if self.ended_on and self.ended_on > self.today():
            errors["ended_on"] = "This is in the future."
        return errors

    @property
    def zone(self):
        """The clock at the tank, of now and of all the places where it stood before."""
        return zone_of(self.time_zone, tuple(map(tuple, self.earlier_zones)))

    def reader_words(self) -> str:
        """Say whose it is and what its reader may do; the reader is that of `with_role_of`."""
        if self.role_of_reader == "owner":
            return "Your tank"
        may = "keep it too" if self.role_of_reader == Membership.Role.CO_KEEPER else "may look"
        return f"{self.owner}’s tank; you {may}"

    def today(self):
        """Return the date it is at the tank."""
        return timezone.localdate(timezone=self.zone)

    def scene(self):
        """Return the water and what bounds it as photics knows it."""
        return scene_of(self)

    @property
    def cover_percent(self):
        """What a lid or screen passes of all light from above [%]."""
        return 100 * self.cover_transmission

    @property
    def litres(self):
        """How much the tank holds, rock and sand counted as water [l]."""
        return self.scene().area_cm2 * self.depth_cm / 1000

    def scene_rocks(self):
        """Return the boxes of rock and overflow as photics knows them."""
        return tuple(rock.scene() for rock in self.rocks.all() if rock.removed_at is None)

    def point_errors(self, *, x_cm, y_cm, depth_cm, unit=CM):
        """Return {field: sentence} for each coordinate [cm] that lies outside the water.

        The sentences tell lengths in `unit`.
        """
        errors = self.box_errors(x_cm=x_cm, y_cm=y_cm, depth_cm=depth_cm, unit=unit)
        if errors or self.shape == self.Shape.BOX or None in (x_cm, y_cm):
            return errors
        panes = self.scene()
        if panes.outside(x_cm, y_cm):
            near, far = panes.rim.chord_cm(x_cm=x_cm)
            ends = f"{format_length(max(near, 0), unit)} to {format_length(far, unit)} {unit}"
            errors["y_cm"] = f"Outside the water: there it is {ends} from the front."
        return errors

    def box_errors(self, *, x_cm, y_cm, depth_cm, unit=CM):
        """Return what `point_errors` does for the box around the tank."""
        ends = {"x_cm": self.length_cm, "y_cm": self.width_cm, "depth_cm": self.depth_cm}
        given = {"x_cm": x_cm, "y_cm": y_cm, "depth_cm": depth_cm}
        words = {"x_cm": "left end", "y_cm": "front pane", "depth_cm": "surface"}
        return {
            name: f"Outside the water: 0 to {format_length(ends[name], unit)} {unit} "
            f"from the {words[name]}."
            for name, value in given.items()
            if value is not None and not 0 <= value <= ends[name]
        }


class Rock(Removable):
    """One block of rock or an overflow, as an upright box; its corner is the front-left-top one."""

    FOLLOWED = "id"

    class Kind(models.TextChoices):
        ROCK = "rock", "rock"
        OVERFLOW = "overflow", "overflow box"

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="rocks")
    name = models.CharField(max_length=60, blank=True)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.ROCK)
    x_cm = models.FloatField("from the left end", validators=bounds(*INSIDE))
    y_cm = models.FloatField("from the front pane", validators=bounds(*INSIDE))
    depth_cm = models.FloatField("top below the surface", validators=bounds(*INSIDE))
    length_cm = models.FloatField("length", validators=bounds(*ROCK_SIDE))
    width_cm = models.FloatField("width", validators=bounds(*ROCK_SIDE))
    height_cm = models.FloatField("height", validators=bounds(*ROCK_HEIGHT))

    # A form sets the keeper's unit, so that messages are in it.
    entered_unit = CM

    objects = RemovableQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            bounds_check("rock", "x_cm", *INSIDE),
            bounds_check("rock", "y_cm", *INSIDE),
            bounds_check("rock", "depth_cm", *INSIDE),
            bounds_check("rock", "length_cm", *ROCK_SIDE),
            bounds_check("rock", "width_cm", *ROCK_SIDE),
            bounds_check("rock", "height_cm", *ROCK_HEIGHT),
        ]

    def __str__(self):
        return self.name or f"{self.get_kind_display()} {self.pk}"

    def clean(self):
        if None in (self.x_cm, self.y_cm, self.depth_cm):
            return
        errors = self.tank.box_errors(
            x_cm=self.x_cm, y_cm=self.y_cm, depth_cm=self.depth_cm, unit=self.entered_unit
        )
        far = [
            ("x_cm", "length_cm", self.tank.length_cm, "the right end"),
            ("y_cm", "width_cm", self.tank.width_cm, "the back pane"),
            ("depth_cm", "height_cm", self.tank.depth_cm, "the floor"),
        ]
        for begins, name, end, side in far:
            start, size = getattr(self, begins), getattr(self, name)
            # A rock that begins outside is wrong there, not in its size.
            if begins not in errors and size is not None and start + size > end + 0.05:
                left = format_length(max(end - start, 0), self.entered_unit)
                errors[name] = (
                    f"Reaches through {side}: at most {left} {self.entered_unit} from there."
                )
        if errors:
            raise ValidationError(errors)
        # A round rock's corners may stand outside a round tank, its middle may not.
        if None not in (self.length_cm, self.width_cm) and self.tank.scene().outside(
            self.x_cm + self.length_cm / 2, self.y_cm + self.width_cm / 2
        ):
            raise ValidationError({"x_cm": "The middle of this box lies outside the tank."})

    def scene(self):
        return scene.Rock(
            x_cm=self.x_cm,
            y_cm=self.y_cm,
            depth_cm=self.depth_cm,
            length_cm=self.length_cm,
            width_cm=self.width_cm,
            height_cm=self.height_cm,
        )


class Membership(models.Model):
    """Another keeper's way in to a tank."""

    class Role(models.TextChoices):
        CO_KEEPER = "co_keeper", "co-keeper: may change things"
        VIEWER = "viewer", "viewer: may look"

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="memberships")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships"
    )
    role = models.CharField(max_length=9, choices=Role, default=Role.VIEWER)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["created_at"]
        constraints = [
            models.UniqueConstraint(fields=["tank", "user"], name="membership_once_a_tank")
        ]

    def __str__(self):
        return f"{self.user} on {self.tank}: {self.role}"


class InvitationQuerySet(models.QuerySet):
    def open_now(self):
        """Invitations that can still be accepted."""
        return self.filter(
            closed_at__isnull=True, expires_at__gt=timezone.now(), tank__removed_at__isnull=True
        )

    def for_token(self, token):
        """Return the open invitation a link names, or None."""
        result = self.open_now().select_related("tank__owner")
        return result.filter(token_hash=hash_token(token)).first()

    def for_keeper(self, user):
        """Open invitations to an address the keeper has confirmed to be theirs.

        An address that was only typed proves nothing: anyone could sign up with it.
        """
        emails = [email.lower() for email in user.verified_emails()]
        if not emails:
            return self.none()
        result = self.open_now().exclude(tank__owner=user).select_related("tank__owner")
        return result.annotate(any_case=Lower("email")).filter(any_case__in=emails)


class Invitation(models.Model):
    """A way in to a tank for someone who may not have an account yet.

    Who holds the link may accept it, once; so may a keeper whose confirmed e-mail it was
    written to. Nothing ever says whether an address has an account.
    """

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="invitations")
    email = models.EmailField("their e-mail")
    role = models.CharField(
        "may", max_length=9, choices=Membership.Role, default=Membership.Role.VIEWER
    )
    # Who accepts becomes the owner; the one who was may stay as a co-keeper.
    hands_over = models.BooleanField(default=False, editable=False)
    owner_stays = models.BooleanField("stay as a co-keeper", default=False)
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField(editable=False)
    # Accepted, declined or called back: it opens nothing any more.
    closed_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = InvitationQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]

    def __str__(self):
        return f"invitation {self.pk} to {self.tank}"

    def offer_words(self):
        """Say what who accepts it is: their role, or the owner."""
        return "its new owner" if self.hands_over else self.get_role_display()

    def renew_token(self):
        """Set a new token and a new last day; return the token: the only moment it is known."""
        token = new_token()
        self.token_hash = hash_token(token)
        self.expires_at = timezone.now() + INVITATION_LIFE
        return token

    def close(self):
        self.closed_at = timezone.now()
        self.save(update_fields=["closed_at"])
