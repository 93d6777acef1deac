"""The outermost URLs: the API, the admin site, liveness and readiness."""

from django.contrib import admin
from django.urls import include, path

from inspections.api import health

handler500 = "inspections.api.problems.failed"
urlpatterns = [
    path("healthz", health.live),
    path("readyz", health.ready),
    path("favicon.ico", health.no_icon),
    path("api/v1/", include("inspections.api.urls")),
    path("admin/", admin.site.urls),
]
