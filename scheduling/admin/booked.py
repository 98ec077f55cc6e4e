"""Sessions and seats: added by a form and taken back by a button, each through its service."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar

from django.contrib import admin, messages
from django.contrib.admin.utils import unquote
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.forms import ModelForm
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import URLPattern, path, reverse
from django.utils.decorators import method_decorator
from django.views.decorators.http import require_POST

from scheduling.admin.access import actor_of
from scheduling.admin.forms import AskForm, SeatForm, SessionForm
from scheduling.admin.shown import LoadInline, PersonSpanInline, SeatInline, Shown
from scheduling.models import BookingStatus, Seat, Session
from scheduling.services.cancelling import cancel_session
from scheduling.services.seats import cancel_seat
from scheduling.wording import when
from studios.errors import LehrbookError
from studios.models import Person


class ThroughService(Shown, admin.ModelAdmin):
    """What a service writes and takes back; a row that stands is not edited.

    Adding needs Django's right to add, taking back its right to change; besides, the service asks for the
    role at the studio that it asks of everybody.
    """

    ask_form: type[AskForm]
    taking_back: ClassVar[str]
    taken_back: ClassVar[str]
    warning: ClassVar[str]
    change_form_template = "admin/scheduling/taken_back.html"
    add_form_template = "admin/change_form.html"

    def take_back(self, actor: Person, row: Any) -> None:
        """Raises LehrbookError."""
        raise NotImplementedError

    def has_add_permission(self, request: HttpRequest) -> bool:
        return admin.ModelAdmin.has_add_permission(self, request)

    def has_take_back_permission(self, request: HttpRequest) -> bool:
        return admin.ModelAdmin.has_change_permission(self, request)

    def get_form(self, request: HttpRequest, obj: Any = None, change: bool = False, **kwargs: Any) -> Any:  # noqa: FBT001, FBT002 - Django's signature
        """A row that stands is shown; a new one is asked for."""
        if obj is not None:
            return super().get_form(request, obj, change, **kwargs)
        return type("Asked", (self.ask_form,), {"actor": actor_of(request), "Meta": self._asked()})

    def _asked(self) -> type[Any]:
        return type("Meta", (), {"model": self.model, "fields": list(self.ask_form.declared_fields)})

    def get_fieldsets(self, request: HttpRequest, obj: Any = None) -> Any:
        if obj is not None:
            return super().get_fieldsets(request, obj)
        return [(None, {"fields": list(self.ask_form.declared_fields)})]

    def get_inlines(self, request: HttpRequest, obj: Any) -> Any:
        """A row that is not yet booked has nothing to show."""
        return super().get_inlines(request, obj) if obj is not None else []

    def changeform_view(
        self,
        request: HttpRequest,
        object_id: str | None = None,
        form_url: str = "",
        extra_context: Any = None,
    ) -> Any:
        """Without Django's transaction around it: the service brings its own, and may try it again."""
        return self._changeform_view(request, object_id, form_url, extra_context)  # type: ignore[attr-defined]  # not in the stubs

    def save_model(self, request: HttpRequest, obj: Any, form: ModelForm, change: bool) -> None:  # noqa: FBT001 - Django's signature
        """The service has written it."""

    def get_urls(self) -> list[URLPattern]:
        view = self.admin_site.admin_view(self.take_back_view)
        return [path("<path:object_id>/take-back/", view, name=self._take_back_name()), *super().get_urls()]

    def _take_back_name(self) -> str:
        return f"scheduling_{self.opts.model_name}_take_back"

    @method_decorator(require_POST)
    def take_back_view(self, request: HttpRequest, object_id: str) -> HttpResponseBase:
        """The button on a row's page."""
        if not self.has_take_back_permission(request):
            raise PermissionDenied
        row = self.get_object(request, unquote(object_id))
        if row is None:
            return redirect(reverse(f"admin:scheduling_{self.opts.model_name}_changelist"))
        self.take_back_each(request, [row])
        return redirect(reverse(f"admin:scheduling_{self.opts.model_name}_change", args=[row.pk]))

    def take_back_each(self, request: HttpRequest, rows: Iterable[Any]) -> None:
        """Each on its own: one that is refused, with its sentence, leaves the others taken back."""
        for row in rows:
            try:
                self.take_back(actor_of(request), row)
            except LehrbookError as error:
                messages.error(request, f"{row}: {error}")
                continue
            self.log_change(request, row, self.taken_back)
            messages.success(request, f"{row}: {self.taken_back}")

    def change_view(
        self, request: HttpRequest, object_id: str, form_url: str = "", extra_context: Any = None
    ) -> HttpResponse:
        """The button stands where there is something to take back, and for somebody who may."""
        row = self.get_object(request, unquote(object_id))
        if row is not None and row.status == BookingStatus.BOOKED and self.has_take_back_permission(request):
            address = reverse(f"admin:{self._take_back_name()}", args=[row.pk])
            button = {"address": address, "label": self.taking_back, "warning": self.warning}
            extra_context = {**(extra_context or {}), "take_back": button}
        return super().change_view(request, object_id, form_url, extra_context)

    @admin.display(description="by the studio's clock", ordering="starts_at")
    def begins(self, row: Session | Seat) -> str:
        return when(row.starts_at, row.studio)


@admin.register(Session)
class SessionAdmin(ThroughService):
    """A session with its seats and its firings' loads."""

    ask_form = SessionForm
    taking_back = "Call off"
    taken_back = "Called off; what it held is free again."
    warning = "Everybody who has a seat is told, and what the session holds is free again."
    list_display = ["course", "studio", "instructor", "begins", "starts_at", "ends_at", "seats", "status"]
    list_filter = ["studio", "course", "status"]
    list_select_related = ["course", "studio", "instructor"]
    date_hierarchy = "starts_at"
    search_fields = ["course__name", "instructor__name", "uid"]
    readonly_fields = ["begins"]
    inlines = [SeatInline, LoadInline, PersonSpanInline]
    actions = ["call_off"]

    def take_back(self, actor: Person, row: Session) -> None:
        cancel_session(actor=actor, session=row)

    @admin.action(description="Call off the selected sessions", permissions=["take_back"])
    def call_off(self, request: HttpRequest, queryset: QuerySet[Session]) -> None:
        """From the list, several at once."""
        self.take_back_each(request, queryset)


@admin.register(Seat)
class SeatAdmin(ThroughService):
    """A seat."""

    ask_form = SeatForm
    taking_back = "Give back"
    taken_back = "Given back."
    warning = "The seat is free for somebody else, and in open bench time the torch is too."
    list_display = [
        "person",
        "studio",
        "session",
        "torch",
        "number",
        "begins",
        "starts_at",
        "ends_at",
        "status",
    ]
    list_filter = ["studio", "status"]
    list_select_related = ["person", "studio", "session__course", "torch"]
    date_hierarchy = "starts_at"
    search_fields = ["person__name", "uid"]
    readonly_fields = ["begins"]
    actions = ["give_back"]

    def take_back(self, actor: Person, row: Seat) -> None:
        cancel_seat(actor=actor, seat=row)

    @admin.action(description="Give back the selected seats", permissions=["take_back"])
    def give_back(self, request: HttpRequest, queryset: QuerySet[Seat]) -> None:
        """From the list, several at once."""
        self.take_back_each(request, queryset)
