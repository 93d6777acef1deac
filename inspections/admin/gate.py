"""The way in to the desk: how often a password may be tried, what must be done first, the second factor."""

import ipaddress
from collections.abc import Callable
from typing import Any, Final

from django.conf import settings
from django.contrib import admin
from django.contrib.admin.forms import AdminAuthenticationForm
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone

from inspections import limits
from inspections.admin import roles
from inspections.limits import Limit
from inspections.services import people

# House rule: a password may be tried so often at once, and once more every so many microseconds.
_OF_A_NAME: Final = Limit(interval_us=30_000_000, burst=10)
_FROM_AN_ADDRESS: Final = Limit(interval_us=10_000_000, burst=30)
_ALWAYS_OPEN: Final = ("admin:login", "admin:logout", "admin:jsi18n")


def address_of(request: HttpRequest) -> str:
    """Return the address a request comes from.

    X-Forwarded-For counts only behind a proxy of ours (PULLBACK_TRUSTED_PROXIES), and from the right: what a client
    wrote into it stands to the left of what our proxies added.
    """
    here = str(request.META.get("REMOTE_ADDR", ""))
    hops = [hop.strip() for hop in request.headers.get("X-Forwarded-For", "").split(",") if hop.strip()]
    while _is_our_proxy(here) and hops:
        hop = hops.pop()
        if not _is_address(hop):
            break
        here = hop
    return here


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


def _is_our_proxy(text: str) -> bool:
    return _is_address(text) and any(ipaddress.ip_address(text) in net for net in settings.TRUSTED_PROXIES)


class SignInForm(AdminAuthenticationForm):
    """Name and password, tried no more often than people mistype."""

    def clean(self) -> dict[str, Any]:
        username = str(self.cleaned_data.get("username") or "").casefold()
        address = address_of(self.request) if self.request is not None else ""
        tries = (
            limits.count(f"sign-in:address:{address}", _FROM_AN_ADDRESS),
            limits.count(f"sign-in:name:{username}", _OF_A_NAME),
        )
        waits = [one.retry_after_s for one in tries if not one.is_allowed]
        if waits:
            # Before the password is looked at: what is tried too fast is not answered, right or wrong.
            raise ValidationError(f"Tried too often; wait {max(waits)} s, then try again.")
        cleaned: dict[str, Any] = super().clean()
        return cleaned


class DeskGate:
    """Sends who is signed in to what must be done before the desk opens: the second factor, a password of their own.

    With the second factor demanded, a stolen password opens nothing but the question for the code.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        first = self._to_do_first(request)
        if first is not None and request.path != first:
            return HttpResponseRedirect(first)
        if not request.path.startswith(reverse("admin:index")):
            return self.get_response(request)
        with timezone.override(settings.DESK_TIME_ZONE):  # what is typed and shown at the desk
            return self.get_response(request)

    def _to_do_first(self, request: HttpRequest) -> str | None:
        if not request.path.startswith(reverse("admin:index")) or not request.user.is_authenticated:
            return None
        if request.path in [reverse(name) for name in _ALWAYS_OPEN]:
            return None
        user = roles.person(request)
        is_asked = settings.SECOND_FACTOR and not people.is_verified(user)
        if is_asked and people.second_factor_of(user) is not None:
            return reverse("admin:second_factor")
        if user.must_change_password:
            return reverse("admin:password_change")
        if is_asked and request.path != reverse("admin:password_change_done"):
            return reverse("admin:second_factor")
        return None


def set_up() -> None:
    """Put the limits before the sign-in page."""
    admin.site.login_form = SignInForm
