"""Leases: whose turn it is to do what is done once at a time."""

from __future__ import annotations

import datetime as dt

from django.db import models

LONG_AGO = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


class Lease(models.Model):
    """Who does one piece of periodic work now, and until when it is theirs alone.

    Whoever is killed is succeeded when the lease ends. Each holder has a greater fence than the one before,
    so that one who slept beyond the end writes nothing any more (`services.leases`).
    """

    name = models.CharField(max_length=40, unique=True)
    holder = models.CharField(max_length=120, blank=True)
    fence = models.PositiveBigIntegerField(default=0)
    until = models.DateTimeField(default=LONG_AGO)
    begun_at = models.DateTimeField(default=LONG_AGO)
    ended_at = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return f"{self.name}: {self.holder or 'nobody'}"
