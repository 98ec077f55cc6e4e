"""What happens when."""

from django.apps import AppConfig

from studios.said import speech


class SchedulingConfig(AppConfig):
    name = "scheduling"
    verbose_name = "Scheduling"

    def ready(self) -> None:
        """Guards are put in place after every migration, tasks known, and refusals said as they are read."""
        from scheduling import guards, reader, tasks  # noqa: F401, PLC0415  (models must be loaded first)

        guards.connect()
        speech.say = reader.spoken
