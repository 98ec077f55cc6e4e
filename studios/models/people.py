"""People, their role at each studio, and what they are signed off for."""

from __future__ import annotations

import uuid
from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext_lazy as _

from studios.models.equipment import EquipmentKind
from studios.models.places import Studio


class PersonManager(BaseUserManager["Person"]):
    """People sign in with their e-mail address."""

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> Person:
        """Create a person; the address is kept in lower case."""
        person = self.model(email=self.normalize_email(email).lower(), **fields)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def create_superuser(self, email: str, password: str | None = None, **fields: Any) -> Person:
        """Create a person who may do everything in the admin."""
        return self.create_user(email, password, is_staff=True, is_superuser=True, **fields)

    def get_by_natural_key(self, username: str | None) -> Person:
        """Find a person by address, in any case of letters."""
        return self.get(email__iexact=username)


class Language(models.TextChoices):
    """The languages that the pages are written in, each by its own name."""

    ENGLISH = "en", "English"
    GERMAN = "de", "Deutsch"


class Units(models.TextChoices):
    """In what temperatures and lengths are said."""

    METRIC = "metric", _("°C and mm")
    US = "us", _("°F and inches")


class Person(AbstractUser):
    """Somebody who teaches, makes or looks after the equipment."""

    username = None  # type: ignore[assignment]  # people sign in by e-mail
    first_name = None  # type: ignore[assignment]  # one name, as the person writes it
    last_name = None  # type: ignore[assignment]
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(max_length=80)
    email = models.EmailField(unique=True)
    language = models.CharField(
        max_length=8, choices=Language.choices, blank=True, help_text=_("Empty: as the browser asks.")
    )
    units = models.CharField(
        max_length=8, choices=Units.choices, blank=True, help_text=_("Empty: those of each studio.")
    )
    sign_outs = models.PositiveIntegerField(
        "signed out everywhere (times)", default=0, editable=False, help_text="Each time ends every session."
    )

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    objects: ClassVar[PersonManager] = PersonManager()  # type: ignore[assignment]  # no user name

    class Meta:
        ordering = ["name", "id"]
        verbose_name_plural = "people"
        constraints = [models.UniqueConstraint(Lower("email"), name="person_email_once")]

    def __str__(self) -> str:
        return self.name

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return self.name

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        """What a valid session carries: it changes with the password, and by signing out everywhere."""
        return salted_hmac(
            "lehrbook.session", f"{self.password}\0{self.sign_outs}", secret=secret, algorithm="sha256"
        ).hexdigest()

    @property
    def awaits_confirmation(self) -> bool:
        """Whether somebody signed up with this address and has not yet followed the link in the mail."""
        return not self.is_active and SignUp.objects.filter(person=self).exists()


class SignUp(models.Model):
    """An address that somebody gave and has not confirmed yet; without this row nobody is confirmed."""

    person = models.OneToOneField(Person, models.CASCADE, related_name="sign_up")
    studio = models.ForeignKey(
        Studio,
        models.SET_NULL,
        null=True,
        related_name="sign_ups",
        help_text="Where the person becomes a student once the address is confirmed.",
    )
    asked_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["asked_at", "id"]

    def __str__(self) -> str:
        return f"{self.person.email}, not confirmed"


class Role(models.TextChoices):
    """What a person is at a studio."""

    STUDENT = "student", _("student")
    INSTRUCTOR = "instructor", _("instructor")
    TECHNICIAN = "technician", _("technician")
    MANAGER = "manager", _("manager")


class Membership(models.Model):
    """A person's role at one studio; somebody may have several."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="memberships")
    studio = models.ForeignKey(Studio, models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=12, choices=Role.choices)
    new_since = models.DateTimeField(
        null=True,
        blank=True,
        help_text="When the person took the role, until a manager has confirmed it; then empty.",
    )

    class Meta:
        ordering = ["studio", "person", "role"]
        constraints = [models.UniqueConstraint(fields=["person", "studio", "role"], name="role_once")]

    def __str__(self) -> str:
        return f"{self.person}, {self.role} at {self.studio}"


class EndedRole(models.Model):
    """A role that a studio's manager ended; rows are only added. The person cannot take it up again alone."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="ended_roles")
    studio = models.ForeignKey(Studio, models.CASCADE, related_name="ended_roles")
    role = models.CharField(max_length=12, choices=Role.choices)
    ended_at = models.DateTimeField(default=timezone.now)
    ended_by = models.ForeignKey(Person, models.SET_NULL, null=True, related_name="+")

    class Meta:
        ordering = ["-ended_at", "-id"]

    def __str__(self) -> str:
        return f"{self.person}, no longer {self.role} at {self.studio}"


class Qualification(models.Model):
    """The studio has signed a person off for a kind of its equipment."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="qualifications")
    studio = models.ForeignKey(Studio, models.CASCADE, related_name="qualifications")
    kind = models.CharField(max_length=16, choices=EquipmentKind.choices)

    class Meta:
        ordering = ["studio", "person", "kind"]
        constraints = [models.UniqueConstraint(fields=["person", "studio", "kind"], name="signed_off_once")]

    def __str__(self) -> str:
        return f"{self.person}: {self.kind} at {self.studio}"
