"""Studios, equipment, glass and people in Django's admin: whoever runs the server edits them here."""

from __future__ import annotations

from collections import Counter
from typing import Any, ClassVar

from django import forms
from django.contrib import admin
from django.contrib.admin.utils import NestedObjects
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.forms import AdminUserCreationForm, UserChangeForm
from django.db import router
from django.db.models import Model
from django.http import HttpRequest

from studios.models import (
    Acknowledgement,
    BenchHours,
    Calibration,
    Closure,
    Draw,
    EndedRole,
    Equipment,
    GlassType,
    Membership,
    Mould,
    OwnProcess,
    Person,
    Pot,
    Qualification,
    SafetyText,
    Season,
    SignUp,
    StaffedHours,
    Studio,
    Supply,
    Term,
    ThermalRecord,
    Travel,
)
from studios.services import next_version

admin.site.site_header = admin.site.site_title = "Lehrbook"
admin.site.index_title = "Everything in the book"


class Referred(admin.ModelAdmin):
    """What others refer to is not deleted; the page says what that is, and what is done instead.

    It says so before any right that is lacking: with all rights it would not be deleted either.
    """

    instead: ClassVar[str]

    def get_deleted_objects(self, objs: Any, request: HttpRequest) -> Any:
        deleted, counts, lacking, protected = super().get_deleted_objects(objs, request)
        return (
            (deleted, counts, set(), [self._why_not(objs)]) if protected else (deleted, counts, lacking, [])
        )

    def _why_not(self, objs: Any) -> str:
        found = NestedObjects(using=router.db_for_write(self.model))
        found.collect(objs)
        kinds = Counter(type(row) for row in found.protected)
        names = sorted(f"{count} {_called(kind, count)}" for kind, count in kinds.items())
        return f"{', '.join(names)}. They are kept, and what they refer to stays with them. {self.instead}"


def _called(kind: type[Model], count: int) -> str:
    meta = kind._meta  # noqa: SLF001 - documented by Django, in spite of its name
    return str(meta.verbose_name if count == 1 else meta.verbose_name_plural)


class StaffedHoursInline(admin.TabularInline):
    model = StaffedHours
    extra = 0


class BenchHoursInline(admin.TabularInline):
    model = BenchHours
    extra = 0


class ClosureInline(admin.TabularInline):
    model = Closure
    extra = 0


class SeasonInline(admin.TabularInline):
    model = Season
    extra = 0


class OwnProcessInline(admin.TabularInline):
    model = OwnProcess
    extra = 0


class SupplyInline(admin.TabularInline):
    model = Supply
    extra = 0


class TermInline(admin.TabularInline):
    """The terms in which what is asked once a term is asked."""

    model = Term
    extra = 0


class SafetyTextFormSet(forms.BaseInlineFormSet):
    """New versions are counted on, in the order in which they are written."""

    def save_new(self, form: Any, commit: bool = True) -> Any:  # noqa: FBT001, FBT002 - Django's signature
        form.instance.version = next_version(self.instance)
        return super().save_new(form, commit)


class MouldInline(admin.TabularInline):
    model = Mould
    extra = 0


class SafetyTextInline(admin.StackedInline):
    """A new version is a new row; what somebody has read stands as it was."""

    model = SafetyText
    formset = SafetyTextFormSet
    fields = ("version", "since", "body")
    readonly_fields = ("version",)
    extra = 0

    def has_change_permission(self, *_request: Any) -> bool:
        return False

    def has_delete_permission(self, *_request: Any) -> bool:
        return False


@admin.register(Studio)
class StudioAdmin(Referred):
    """A studio with its hours, closures and supplies."""

    instead = "A studio that is given up is left as it is; end the roles of its people."

    list_display = ["name", "slug", "time_zone", "latest_end", "address"]
    search_fields = ["name", "slug", "address"]
    prepopulated_fields = {"slug": ["name"]}
    inlines = [
        StaffedHoursInline,
        BenchHoursInline,
        ClosureInline,
        SeasonInline,
        OwnProcessInline,
        SupplyInline,
        MouldInline,
        TermInline,
        SafetyTextInline,
    ]


class ThermalRecordInline(admin.StackedInline):
    model = ThermalRecord
    extra = 0


class DrawInline(admin.TabularInline):
    model = Draw
    extra = 0
    autocomplete_fields = ["supply"]


class PotInline(admin.StackedInline):
    """The pot of a furnace."""

    model = Pot
    extra = 0


@admin.register(Equipment)
class EquipmentAdmin(admin.ModelAdmin):
    """A piece of equipment with its thermal records and its draws."""

    list_display = ["name", "studio", "kind", "number", "places", "station", "room", "gas_fired", "active"]
    list_filter = ["studio", "kind", "active"]
    list_select_related = ["studio", "station", "room"]
    search_fields = ["name", "studio__name"]
    autocomplete_fields = ["station", "room"]
    inlines = [ThermalRecordInline, DrawInline, PotInline]


@admin.register(Calibration)
class CalibrationAdmin(admin.ModelAdmin):
    """A fitted log: shown only. It is made, and made a record of, through its own pages."""

    list_display = ["file_name", "equipment", "made_by", "made_at", "offered", "record", "accepted_by"]
    list_filter = ["equipment__studio"]
    list_select_related = ["equipment", "made_by", "record__equipment", "accepted_by"]
    search_fields = ["file_name", "equipment__name"]
    exclude = ["readings", "one_range", "two_range"]

    def has_add_permission(self, *_request: Any) -> bool:
        return False

    def has_change_permission(self, *_request: Any) -> bool:
        return False

    def has_delete_permission(self, *_request: Any) -> bool:
        return False


@admin.register(Supply)
class SupplyAdmin(admin.ModelAdmin):
    """A supply with all that draws on it."""

    list_display = ["name", "studio", "kind", "limit", "unit", "content", "content_unit", "change_over"]
    list_filter = ["studio", "kind"]
    list_select_related = ["studio"]
    search_fields = ["name", "studio__name"]


@admin.register(GlassType)
class GlassTypeAdmin(admin.ModelAdmin):
    """A glass with its points and properties."""

    list_display = ["name", "expansion_1e7_per_k", "annealing_c", "strain_c", "softening_c", "source"]
    search_fields = ["name", "slug"]
    prepopulated_fields = {"slug": ["name"]}


@admin.register(Travel)
class TravelAdmin(admin.ModelAdmin):
    """How long a person needs between two studios."""

    list_display = ["origin", "destination", "minutes"]
    list_select_related = ["origin", "destination"]


class EmailOnce(forms.ModelForm):
    """An address is kept in lower case, so that nobody has two accounts by a capital letter."""

    def clean_email(self) -> str:
        return str(self.cleaned_data["email"]).lower()


class NewPersonForm(EmailOnce, AdminUserCreationForm):
    """A person is created with an e-mail address, a name and a password."""

    class Meta:
        model = Person
        fields = ["email", "name"]


class PersonForm(EmailOnce, UserChangeForm):
    """A person; the password is changed on a page of its own."""

    class Meta:
        model = Person
        fields = [
            *["email", "name", "language", "units"],
            *["is_active", "is_staff", "is_superuser", "groups", "user_permissions"],
        ]


class MembershipInline(admin.TabularInline):
    model = Membership
    extra = 0


class QualificationInline(admin.TabularInline):
    model = Qualification
    extra = 0


class Kept(admin.TabularInline):
    """Written by the services, and shown here."""

    extra = 0

    def has_add_permission(self, *_request: Any) -> bool:
        return False

    def has_change_permission(self, *_request: Any) -> bool:
        return False

    def has_delete_permission(self, *_request: Any) -> bool:
        return False


class AcknowledgementInline(Kept):
    """The safety texts that the person has read."""

    model = Acknowledgement


class SignUpInline(Kept):
    """An address that is not confirmed yet."""

    model = SignUp


class EndedRoleInline(Kept):
    """Roles that a manager ended."""

    model = EndedRole
    fk_name = "person"


@admin.register(Person)
class PersonAdmin(Referred, UserAdmin):
    """A person, who signs in by e-mail, with roles at studios and sign-offs for equipment."""

    instead = "Somebody who is to sign in no more is made inactive instead."

    form = PersonForm
    add_form = NewPersonForm
    list_display = ["name", "email", "is_active", "is_staff"]
    list_filter = ["memberships__studio", "memberships__role", "is_active", "is_staff", "is_superuser"]
    search_fields = ["name", "email"]
    ordering = ["name", "id"]
    readonly_fields = ["last_login", "date_joined"]
    fieldsets = [
        (None, {"fields": ["name", "email", "password", "language", "units"]}),
        ("Rights", {"fields": ["is_active", "is_staff", "is_superuser", "groups", "user_permissions"]}),
        ("Dates", {"fields": ["last_login", "date_joined"]}),
    ]
    add_fieldsets = [(None, {"fields": ["email", "name", "usable_password", "password1", "password2"]})]
    inlines = [
        MembershipInline,
        QualificationInline,
        EndedRoleInline,
        SignUpInline,
        AcknowledgementInline,
    ]

    def get_inlines(self, request: HttpRequest, obj: Any) -> Any:
        """Somebody new has no past."""
        inlines = super().get_inlines(request, obj)
        return inlines if obj else [inline for inline in inlines if not issubclass(inline, Kept)]

    def get_deleted_objects(self, objs: Any, request: HttpRequest) -> Any:
        """What goes with a person is listed before it is deleted; the text of a token is its secret."""
        deleted, *rest = super().get_deleted_objects(objs, request)
        return (_without_tokens(deleted), *rest)


def _without_tokens(lines: list[Any]) -> list[Any]:
    """The nested list of what is deleted, without the lines that are tokens."""
    kept = (_without_tokens(line) if isinstance(line, list) else line for line in lines)
    return [line for line in kept if isinstance(line, list) or not str(line).startswith("Token: ")]
