"""Where each face hangs."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("", include("scheduling.web.urls")),
    path("api/", include("scheduling.api.urls")),
    path("calendars/", include("scheduling.feeds.urls")),
    path("admin/", admin.site.urls),
]
