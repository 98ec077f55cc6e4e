"""Signing in and out."""

from __future__ import annotations

from django.contrib.auth.views import LoginView, LogoutView

from scheduling.web.forms import SignInForm


class SignIn(LoginView):
    """By e-mail and password; somebody who is signed in goes on to the sheet."""

    template_name = "web/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True


class SignOut(LogoutView):
    """By a button, never by a link: a POST."""
