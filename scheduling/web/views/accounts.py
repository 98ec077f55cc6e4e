"""Signing up, confirming an address, a new password, and a person's own account."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import PasswordChangeView, PasswordResetConfirmView, PasswordResetView
from django.forms import Form, model_to_dict
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse, reverse_lazy
from django.utils.translation import get_language_from_request, gettext, override
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scheduling.selectors.people import joinable_by, roles_of
from scheduling.services import accounts
from scheduling.services.accounts import Ways
from scheduling.web.access import person_of
from scheduling.web.account_forms import (
    ChangePasswordForm,
    ConfirmForm,
    ForgottenForm,
    JoinForm,
    NameForm,
    NewPasswordForm,
    ReadingForm,
    SignUpForm,
)
from scheduling.web.landing import first_page
from scheduling.wording import say
from studios.errors import LehrbookError

BACKEND = "django.contrib.auth.backends.ModelBackend"


@require_http_methods(["GET", "HEAD", "POST"])
def sign_up(request: HttpRequest) -> HttpResponse:
    """Somebody gives an address. What follows is the same for any address."""
    if request.user.is_authenticated:
        return redirect("account")
    form = SignUpForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            accounts.sign_up(**form.cleaned_data, ways=ways(request))
        except LehrbookError as error:
            form.refuse(error)
        else:
            return redirect("mailed")
    return render(request, "web/sign_up.html", {"form": form}, status=400 if form.errors else 200)


@require_safe
def mailed(request: HttpRequest) -> HttpResponse:
    """The same page whoever asked for a mail, and whether or not there was anything to mail."""
    return render(request, "web/mailed.html")


class Confirm(PasswordResetConfirmView):
    """The link in the mail to somebody who signed up: a password is chosen, and they are signed in."""

    template_name = "web/confirm.html"
    form_class = ConfirmForm
    token_generator = accounts.confirmations
    post_reset_login = True
    post_reset_login_backend = BACKEND

    def get_success_url(self) -> str:
        return first_page(person_of(self.request))

    def form_valid(self, form: Any) -> HttpResponse:
        try:
            return super().form_valid(form)
        except LehrbookError as error:
            form.add_error(None, str(error))
            return self.form_invalid(form)


class Forgotten(PasswordResetView):
    """Somebody does not know the password any more."""

    template_name = "web/forgotten.html"
    form_class = ForgottenForm
    success_url = reverse_lazy("mailed")

    def form_valid(self, form: Any) -> HttpResponse:
        form.save(ways=ways(self.request))
        return redirect(self.get_success_url())


class NewPassword(PasswordResetConfirmView):
    """The link in the mail to somebody who asked for a new password."""

    template_name = "web/new_password.html"
    form_class = NewPasswordForm
    success_url = reverse_lazy("sign-in")

    def form_valid(self, form: Any) -> HttpResponse:
        messages.success(self.request, gettext("The new password stands. Sign in with it."))
        return super().form_valid(form)


class ChangePassword(PasswordChangeView):
    """Somebody who knows the password chooses another one; every other device is signed out."""

    template_name = "web/change_password.html"
    form_class = ChangePasswordForm
    success_url = reverse_lazy("account")

    def form_valid(self, form: Any) -> HttpResponse:
        messages.success(
            self.request, gettext("The new password stands, and every other device is signed out.")
        )
        return super().form_valid(form)


@login_required
@require_safe
def account(request: HttpRequest) -> HttpResponse:
    """The own name, roles, password and devices."""
    return _account(request)


@login_required
@require_POST
def rename(request: HttpRequest) -> HttpResponse:
    """How the person is called from now on."""
    form = NameForm(request.POST)
    if form.is_valid():
        try:
            accounts.rename(person=person_of(request), name=form.cleaned_data["name"])
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(request, gettext("The name is changed."))
            return redirect("account")
    return _account(request, name_form=form)


@login_required
@require_POST
def read_in(request: HttpRequest) -> HttpResponse:
    """In which language and which units the person reads from now on."""
    form = ReadingForm(request.POST)
    if not form.is_valid():
        return _account(request, reading_form=form)
    person = accounts.read_in(person=person_of(request), **form.cleaned_data)
    with override(person.language or get_language_from_request(request)):
        messages.success(request, gettext("From now on the pages are said this way."))
    return redirect("account")


@login_required
@require_POST
def join(request: HttpRequest) -> HttpResponse:
    """A student at one more studio."""
    person = person_of(request)
    form = JoinForm(request.POST, studios=joinable_by(person))
    if form.is_valid():
        studio = form.cleaned_data["studio"]
        try:
            accounts.join_studio(person=person, studio=studio)
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(request, say("You are a student at {studio}.", studio=studio.name))
            return redirect("account")
    return _account(request, join_form=form)


@login_required
@require_POST
def sign_out_everywhere(request: HttpRequest) -> HttpResponse:
    """This device too."""
    accounts.sign_out_everywhere(person=person_of(request))
    logout(request)
    messages.success(request, gettext("You are signed out on every device, and your API token is withdrawn."))
    return redirect("sign-in")


def _account(
    request: HttpRequest,
    name_form: Form | None = None,
    join_form: Form | None = None,
    reading_form: Form | None = None,
) -> HttpResponse:
    person = person_of(request)
    studios = joinable_by(person)
    context = {
        "person": person,
        "roles": roles_of(person),
        "name_form": name_form or NameForm(initial={"name": person.name}),
        "reading_form": reading_form or ReadingForm(initial=model_to_dict(person, ["language", "units"])),
        "join_form": join_form or (JoinForm(studios=studios) if studios else None),
    }
    wrong = any(form is not None and form.errors for form in (name_form, join_form, reading_form))
    return render(request, "web/account.html", context, status=400 if wrong else 200)


def ways(request: HttpRequest) -> Ways:
    """The addresses that a mail leads to, as whoever asks reaches them."""

    def to(name: str, key: dict[str, str] | None = None) -> str:
        return request.build_absolute_uri(reverse(name, kwargs=key))

    return Ways(
        sign_in=to("sign-in"),
        forgotten=to("forgotten"),
        confirm=lambda key: to("confirm", key),
        new_password=lambda key: to("new-password", key),
    )
