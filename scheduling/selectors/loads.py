"""What a load belongs to, as everybody names it: a class, a kiln job, or somebody's own work."""

from __future__ import annotations

from scheduling.models import Load
from studios.said import said

OWN_WORK = said("own work")


def load_title(load: Load) -> str:
    """The class that made its pieces, or the kiln job they belong to; else own work."""
    if load.session is not None:
        return load.session.course.name
    return load.job.title if load.job is not None else OWN_WORK
