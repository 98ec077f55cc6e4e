"""Ticks on the day's round."""

import django.db.models.deletion
import django.utils.timezone
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("scheduling", "0010_planned_meetings"),
        ("studios", "0009_calendars"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Tick",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("duty", models.CharField(max_length=80)),
                ("said", models.CharField(help_text="The duty as it was read.", max_length=200)),
                ("due_at", models.DateTimeField(help_text="When it was due, as it stood then.")),
                ("ticked_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "taken_back_at",
                    models.DateTimeField(blank=True, help_text="It was ticked by mistake.", null=True),
                ),
                (
                    "actual",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="ticks",
                        to="scheduling.actual",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="ticks", to="studios.studio"
                    ),
                ),
                (
                    "taken_back_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "ticked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="ticks",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["due_at", "id"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("taken_back_at__isnull", True)),
                        fields=("studio", "duty"),
                        name="ticked_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("taken_back_at__isnull", True), ("taken_back_by__isnull", True)),
                            models.Q(("taken_back_at__isnull", False), ("taken_back_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="taken_back_by_somebody",
                    ),
                ],
            },
        ),
    ]
