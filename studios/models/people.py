"""People, their role at each studio, and what they are signed off for."""

from __future__ import annotations

import uuid
from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower

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


class Person(AbstractUser):
    """Somebody who teaches, makes or looks after the equipment."""

    username = None  # type: ignore[assignment]  # people sign in by e-mail
    first_name = None  # type: ignore[assignment]  # one name, as the person writes it
    last_name = None  # type: ignore[assignment]
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(max_length=80)
    email = models.EmailField(unique=True)

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


class Role(models.TextChoices):
    """What a person is at a studio."""

    STUDENT = "student", "student"
    INSTRUCTOR = "instructor", "instructor"
    TECHNICIAN = "technician", "technician"
    MANAGER = "manager", "manager"


class Membership(models.Model):
    """A person's role at one studio; somebody may have several."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="memberships")
    studio = models.ForeignKey(Studio, models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=12, choices=Role.choices)

    class Meta:
        ordering = ["studio", "person", "role"]
        constraints = [models.UniqueConstraint(fields=["person", "studio", "role"], name="role_once")]

    def __str__(self) -> str:
        return f"{self.person}, {self.role} at {self.studio}"


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
