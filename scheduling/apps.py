"""What happens when."""

from django.apps import AppConfig


class SchedulingConfig(AppConfig):
    name = "scheduling"
    verbose_name = "Scheduling"

    def ready(self) -> None:
        """Have the guards put in place after every migration, and the tasks known to every process."""
        from scheduling import guards, tasks  # noqa: F401, PLC0415  (models must be loaded first)

        guards.connect()
