"""A late class leaves half of a big kiln free: who teaches it opens that to others."""

from __future__ import annotations

from scheduling.management.demo.files import read
from scheduling.models import Firing
from scheduling.selectors.opening import hindrance_of
from scheduling.services.offered_space import offer


def open_what_a_class_leaves() -> None:
    """The first firing of that course in a kiln with a shelf to spare."""
    course = read("term")["opens_its_firing"]
    rows = Firing.objects.filter(loads__session__course__slug=course, equipment__shelf_levels__gt=1)
    for firing in rows.select_related("equipment__studio").order_by("at_hold_at", "pk"):
        loads = list(firing.loads.select_related("session__instructor").prefetch_related("stands"))
        if hindrance_of(firing, loads) is None and loads[0].session is not None:
            offer(actor=loads[0].session.instructor, firing=firing)
            return
