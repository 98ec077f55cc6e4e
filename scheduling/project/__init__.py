"""Naming the settings module also loads Celery, so that tasks bind to this application everywhere."""

from scheduling.project.celery import app as celery_app

__all__ = ["celery_app"]
