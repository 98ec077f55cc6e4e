"""Where somebody goes on to who has signed in."""

from __future__ import annotations

from django.urls import reverse

from studios.models import Person
from studios.selectors import allowed_anywhere


def first_page(person: Person) -> str:
    """Who looks after others or equipment begins with the sheet; a student with what comes next for them."""
    return reverse("week" if allowed_anywhere(person, "see-names") else "my-seats")
