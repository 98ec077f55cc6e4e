"""Handwork knows the load it is for, and its pieces; a class keeps some shelves of its firing."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("scheduling", "0012_kiln_jobs"),
    ]

    operations = [
        migrations.AddField(
            model_name="firing",
            name="shelves_kept",
            field=models.PositiveSmallIntegerField(
                blank=True,
                help_text="So many shelves, from below, are for its own pieces; what others add stands above them.",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="jobstep",
            name="load",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="steps",
                to="scheduling.load",
            ),
        ),
        migrations.AddField(
            model_name="jobstep",
            name="of",
            field=models.ManyToManyField(blank=True, related_name="steps", to="scheduling.piece"),
        ),
    ]
