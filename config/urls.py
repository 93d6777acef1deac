"""The outermost URLs: the API, the admin site, liveness and readiness."""

from django.contrib import admin
from django.urls import include, path

from inspections.api import health, metrics, shared_reports

handler500 = "inspections.api.problems.failed"
urlpatterns = [
    path("healthz", health.live),
    path("readyz", health.ready),
    path("metrics", metrics.metrics),
    path("favicon.ico", health.no_icon),
    path("reports/<str:key>", shared_reports.shared_report, name="shared_report"),
    path("api/v1/", include("inspections.api.urls")),
    path("admin/", admin.site.urls),
]
