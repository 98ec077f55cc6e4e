"""What happens when."""

from django.apps import AppConfig


class SchedulingConfig(AppConfig):
    name = "scheduling"
    verbose_name = "Scheduling"

    def ready(self) -> None:
        """Install the guards of the database after every migration, and check them at start-up."""
        from scheduling import guards  # noqa: PLC0415  (models must be loaded first)

        guards.connect()
