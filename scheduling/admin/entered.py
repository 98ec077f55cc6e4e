"""What the services decide from: courses and outages, edited freely; and calendar links, withdrawn."""

from __future__ import annotations

from django.contrib import admin, messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.forms import ModelForm
from django.http import HttpRequest
from rest_framework.authtoken.models import TokenProxy

from scheduling.admin.access import actor_of
from scheduling.admin.shown import ShownInline
from scheduling.models import Course, CourseNeed, EarlierCourse, FeedKey, Outage
from scheduling.selectors.earlier import circle_through
from scheduling.services.calendars import withdraw_feed_key
from scheduling.services.outages import lock_stations, refit_around
from studios.errors import LehrbookError

# Its pages show each token in full; a person withdraws the own one, and a deactivated person's is void.
admin.site.unregister(TokenProxy)


class CourseNeedInline(admin.TabularInline):
    model = CourseNeed
    extra = 0


class EarlierCourseInline(ShownInline):
    """Who has taken it elsewhere; the pages record it, with who vouches."""

    model = EarlierCourse
    show_change_link = False


class CourseForm(ModelForm):
    """Nobody could ever begin a course that builds on itself, at once or in a circle."""

    def clean_requires(self) -> QuerySet[Course]:
        requires: QuerySet[Course] = self.cleaned_data["requires"]
        way = [course.name for course in circle_through(self.instance, requires)]
        if len(way) == 1:
            raise ValidationError("A course does not build on itself.")
        if way:
            chain = ", which builds on ".join(way)
            raise ValidationError(f"It would build on itself: on {chain}. Nobody could begin any of them.")
        return requires


@admin.register(Course)
class CourseAdmin(admin.ModelAdmin):
    """A course with what it needs; sessions that are booked keep what they hold."""

    form = CourseForm
    list_display = ["name", "minutes", "seats", "assistants", "glass", "thickness_mm", "recipe", "active"]
    list_filter = ["studios", "recipe", "active"]
    list_select_related = ["glass"]
    search_fields = ["name", "slug"]
    prepopulated_fields = {"slug": ["name"]}
    filter_horizontal = ["studios", "requires"]
    inlines = [CourseNeedInline, EarlierCourseInline]


@admin.register(Outage)
class OutageAdmin(admin.ModelAdmin):
    """Hours in which equipment is out of use."""

    list_display = ["equipment", "starts_at", "ends_at", "reason", "entered_by"]
    list_filter = ["equipment__studio"]
    list_select_related = ["equipment", "entered_by"]
    date_hierarchy = "starts_at"
    search_fields = ["equipment__name", "reason"]
    autocomplete_fields = ["equipment"]
    readonly_fields = ["entered_by"]

    def save_model(self, request: HttpRequest, obj: Outage, form: ModelForm, change: bool) -> None:  # noqa: FBT001 - Django's signature
        """Under the same lock as a booking, so that neither misses the other; heat is made good after it."""
        before = Outage.objects.select_related("equipment__studio").get(pk=obj.pk) if change else obj
        lock_stations(obj.equipment, before.equipment)
        if not change:
            obj.entered_by = actor_of(request)
        super().save_model(request, obj, form, change)
        for one in [before, obj] if change else [obj]:
            refit_around(one)

    def delete_model(self, request: HttpRequest, obj: Outage) -> None:
        """As if it had never been entered: what follows it may be warm again."""
        with transaction.atomic():
            lock_stations(obj.equipment)
            super().delete_model(request, obj)
            refit_around(obj)

    def delete_queryset(self, request: HttpRequest, queryset: QuerySet[Outage]) -> None:
        """Several at once are struck one by one."""
        for outage in queryset.select_related("equipment__studio").order_by("equipment", "pk"):
            self.delete_model(request, outage)


@admin.register(FeedKey)
class FeedKeyAdmin(admin.ModelAdmin):
    """Calendar links, each by its name: the secret itself is shown to its owner alone."""

    list_display = ["label", "person", "created_at", "last_used_on", "revoked_at"]
    list_select_related = ["person"]
    search_fields = ["label", "person__name"]
    fields = ["label", "person", "created_at", "last_used_on", "revoked_at"]
    readonly_fields = ["person", "created_at", "last_used_on", "revoked_at"]
    actions = ["withdraw"]

    def has_add_permission(self, request: HttpRequest) -> bool:  # noqa: ARG002 - Django's signature
        """A person makes the own links."""
        return False

    @admin.action(description="Withdraw the selected links", permissions=["change"])
    def withdraw(self, request: HttpRequest, queryset: QuerySet[FeedKey]) -> None:
        """From now on they show nothing."""
        for feed_key in queryset:
            try:
                withdraw_feed_key(actor=actor_of(request), feed_key=feed_key)
            except LehrbookError as error:
                messages.error(request, str(error))
