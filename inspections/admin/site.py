"""The names of the desk, and its pages that belong to no single list."""

from collections.abc import Callable
from typing import Any

from django.contrib import admin
from django.http import HttpRequest, HttpResponse
from django.urls import path

from inspections.admin import gate, lateral_report, own_account, today


def desk_view(request: HttpRequest) -> HttpResponse:
    """Show today: jobs by inspector, work that waits or failed, runs to review."""
    return today.page(request, admin.site)


def _with_own_pages(others: Callable[[], list[Any]]) -> Callable[[], list[Any]]:
    """Put the desk's own pages before those of the lists, which answer to every other address."""

    def get_urls() -> list[Any]:
        guarded = admin.site.admin_view
        return [
            path("desk/", guarded(desk_view), name="desk"),
            path("password_change/", guarded(own_account.OwnPassword.as_view()), name="password_change"),
            path("second-factor/", guarded(own_account.second_factor_view), name="second_factor"),
            path("laterals/<uuid:id>/report", guarded(lateral_report.report_view), name="lateral_report"),
            path("laterals/<uuid:id>/drawing.svg", guarded(lateral_report.drawing_view), name="lateral_drawing"),
            *others(),
        ]

    return get_urls


def set_up() -> None:
    """Name the site. It stays Django's own instance, so that every registration lands on it."""
    admin.site.site_header = "Pullback desk"
    admin.site.site_title = "Pullback desk"
    admin.site.site_url = None  # no link to a site that is not there
    admin.site.index_title = "All records"
    admin.site.index_template = "admin/desk/index.html"
    admin.site.enable_nav_sidebar = False
    gate.set_up()
    admin.site.get_urls = _with_own_pages(admin.site.get_urls)  # type: ignore[method-assign]
