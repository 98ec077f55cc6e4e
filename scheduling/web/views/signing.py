"""Signing in and out."""

from __future__ import annotations

from django.contrib.auth.views import LoginView, LogoutView

from scheduling.web.access import person_of
from scheduling.web.forms import SignInForm
from scheduling.web.landing import first_page


class SignIn(LoginView):
    """By e-mail and password; somebody who is signed in goes on to what is theirs."""

    template_name = "web/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_default_redirect_url(self) -> str:
        return first_page(person_of(self.request))


class SignOut(LogoutView):
    """By a button, never by a link: a POST."""
