"""What the pages of an account ask for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth.forms import PasswordChangeForm, PasswordResetForm, SetPasswordForm
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from scheduling.services.accounts import Ways, ask_new_password, confirm_address, set_password
from scheduling.web.forms import PlainForm, asked_for
from studios.models import Language, Person, Role, Studio, Units

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

EMAIL_ERRORS = {
    "required": _("Write your e-mail address."),
    "invalid": _("This is no e-mail address; one looks like name@place.example."),
}


def name_field(label: StrOrPromise) -> forms.CharField:
    return forms.CharField(
        max_length=80,
        label=label,
        help_text=_("As you want to be called."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={"required": _("Write your name.")},
    )


def email_field() -> forms.EmailField:
    return forms.EmailField(
        max_length=254,
        label=_("E-mail"),
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
        error_messages=EMAIL_ERRORS,
    )


def studio_field(label: StrOrPromise) -> forms.ModelChoiceField:
    return forms.ModelChoiceField(
        queryset=Studio.objects.none(),
        to_field_name="slug",
        label=label,
        empty_label=_("Choose a studio"),
        error_messages=asked_for(_("Choose a studio.")),
    )


class SignUpForm(PlainForm):
    """A name, an address, and the studio where somebody wants to be a student."""

    name = name_field(_("Your name"))
    email = email_field()
    studio = studio_field(_("I want to be a student at"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "studio", Studio.objects.order_by("name"))


class ForgottenForm(PasswordResetForm):
    """An address whose password is not known any more."""

    email = email_field()

    def save(self, *, ways: Ways, **_mailed: Any) -> None:  # type: ignore[override]  # the outbox mails it
        ask_new_password(email=self.cleaned_data["email"], ways=ways)


class ChosenPassword:
    """The two fields of a new password, in the words of these pages."""

    fields: dict[str, Any]

    def worded(self) -> None:
        for name, label in (("new_password1", _("Password")), ("new_password2", _("The same again"))):
            self.fields[name].label = label
            self.fields[name].error_messages["required"] = _("Write the password.")
        self.fields["new_password1"].help_text = _("At least 8 characters, and none that many people use.")
        self.fields["new_password2"].help_text = ""


class NewPasswordForm(ChosenPassword, SetPasswordForm):
    """A new password, by the link in a mail."""

    error_messages = {"password_mismatch": _("The two passwords differ.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.worded()

    def save(self, commit: bool = True) -> Person:  # noqa: ARG002, FBT001, FBT002 - Django's signature
        return set_password(person=self.user, password=self.cleaned_data["new_password1"])


class ConfirmForm(NewPasswordForm):
    """The first password, by the link that confirms the address."""

    def save(self, commit: bool = True) -> Person:  # noqa: ARG002, FBT001, FBT002 - Django's signature
        return confirm_address(person=self.user, password=self.cleaned_data["new_password1"])


class ChangePasswordForm(ChosenPassword, PasswordChangeForm):
    """A new password, by whoever knows the one that stands."""

    error_messages = {
        "password_mismatch": _("The two passwords differ."),
        "password_incorrect": _("This is not your password."),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.worded()
        self.fields["new_password1"].label = _("New password")
        self.fields["old_password"].label = _("Your password until now")
        self.fields["old_password"].error_messages["required"] = _("Write the password that you use now.")
        self.fields["old_password"].widget.attrs.pop("autofocus", None)

    def save(self, commit: bool = True) -> Person:  # noqa: ARG002, FBT001, FBT002 - Django's signature
        return set_password(person=self.user, password=self.cleaned_data["new_password1"])


class NameForm(PlainForm):
    """How somebody is called."""

    name = name_field(_("Name"))


class ReadingForm(PlainForm):
    """In which language and which units somebody reads."""

    language = forms.ChoiceField(
        required=False,
        label=_("Language"),
        choices=[("", _("as the browser asks")), *Language.choices],
        error_messages=asked_for(_("Choose a language.")),
    )
    units = forms.ChoiceField(
        required=False,
        label=_("Temperatures and lengths"),
        choices=[("", _("as each studio says them")), *Units.choices],
        error_messages=asked_for(_("Choose the units.")),
    )


class JoinForm(PlainForm):
    """One more studio."""

    studio = studio_field(_("Studio"))

    def __init__(self, *args: Any, studios: QuerySet[Studio], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "studio", studios)


class RoleForm(PlainForm):
    """A further role for somebody whom the studio knows."""

    person = forms.ModelChoiceField(
        label=_("Person"),
        queryset=Person.objects.none(),
        to_field_name="uid",
        empty_label=_("Choose a person"),
        error_messages=asked_for(_("Choose a person.")),
    )
    role = forms.ChoiceField(
        label=_("Role"), choices=Role.choices, error_messages=asked_for(_("Choose a role."))
    )

    def __init__(self, *args: Any, people: QuerySet[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "person", people)


def offer(form: forms.Form, name: str, rows: QuerySet[Any]) -> None:
    """Fill a choice."""
    field = form.fields[name]
    if isinstance(field, forms.ModelChoiceField):
        field.queryset = rows
