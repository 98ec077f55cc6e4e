"""The Celery application; with no Redis in the environment its tasks run in process."""

from __future__ import annotations

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "scheduling.project.settings")

app = Celery("lehrbook")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["scheduling"])
