"""What exists and what it can physically do."""

from django.apps import AppConfig


class StudiosConfig(AppConfig):
    name = "studios"
    verbose_name = "Studios"
