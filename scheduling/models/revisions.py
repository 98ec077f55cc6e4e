"""Revisions: how often what the engine reads of something has changed."""

from __future__ import annotations

from django.db import models


class Revision(models.Model):
    """How often one thing has changed: a piece of equipment, a supply, a person, or the set-up of studios.

    The database raises it by itself, in the transaction that writes (`scheduling.revised`).
    """

    kind = models.CharField(max_length=10)
    key = models.PositiveBigIntegerField()
    number = models.PositiveBigIntegerField(default=1)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["kind", "key"], name="revision_once")]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}: {self.number}"
