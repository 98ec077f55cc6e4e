"""The one-time token of a form, beside its CSRF token: every form of the pages carries both."""

from __future__ import annotations

import secrets

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

FIELD = "once"

register = template.Library()


@register.simple_tag
def once() -> SafeString:
    """A new token each time the form is shown: sent again with it, the form is carried out once."""
    return format_html('<input type="hidden" name="{}" value="{}">', FIELD, secrets.token_urlsafe(18))
