"""What people do about their own account at the desk: their password, their second factor."""

import base64
from typing import Any

from django import forms
from django.contrib import admin, messages
from django.contrib.admin.forms import AdminPasswordChangeForm
from django.contrib.auth.views import PasswordChangeView
from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.template.response import TemplateResponse
from django.urls import reverse, reverse_lazy
from django_otp import login as otp_login
from django_otp.plugins.otp_totp.models import TOTPDevice

from inspections.actor import Actor
from inspections.admin import roles
from inspections.models import User
from inspections.services import people


def actor_of(request: HttpRequest, user: User) -> Actor:
    """Return who acts on the account of this person."""
    if user.organisation is None:
        return people.above_organisations(f"user {roles.person(request).get_username()}", "admin", _id_of(request))
    return roles.actor(request, user.organisation)


def _id_of(request: HttpRequest) -> str:
    return str(getattr(request, "request_id", ""))


class OwnPasswordForm(AdminPasswordChangeForm):
    """A new password of one's own; the old one is none."""

    def clean(self) -> Any:
        cleaned = super().clean()
        new = self.cleaned_data.get("new_password1")
        if new and self.user.check_password(new):
            self.add_error("new_password1", "This is the password you have; choose another.")
        return cleaned


class OwnPassword(PasswordChangeView):
    """Change one's own password, noted in the trail; never to what."""

    form_class = OwnPasswordForm
    success_url = reverse_lazy("admin:password_change_done")

    def get_context_data(self, **context: Any) -> dict[str, Any]:
        return super().get_context_data(**context, **admin.site.each_context(self.request))

    def form_valid(self, form: Any) -> HttpResponse:
        with transaction.atomic():
            user = roles.person(self.request)
            answer: HttpResponse = super().form_valid(form)
            people.password_owned(actor=actor_of(self.request, user), user=user)
        return answer


class CodeForm(forms.Form):
    """What the authenticator app shows just now."""

    code = forms.RegexField(
        r"^[0-9 ]{6,8}$",
        label="Code",
        help_text="the six digits that your authenticator app shows",
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric", "autofocus": True}),
    )

    def clean_code(self) -> str:
        return str(self.cleaned_data["code"]).replace(" ", "")


def second_factor_view(request: HttpRequest) -> HttpResponse:
    """Ask for the code of who is enrolled; let everybody else enrol."""
    user = roles.person(request)
    device = people.second_factor_of(user)
    is_new = device is None
    device = device or people.second_factor_begun(user=user)
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if device.verify_token(form.cleaned_data["code"]):
            if is_new:
                people.second_factor_confirm(actor=actor_of(request, user), user=user, device=device)
                messages.success(request, "The second factor is set up.")
            otp_login(request, device)
            return HttpResponseRedirect(reverse("admin:index"))
        form.add_error("code", "This code does not fit, or it came too soon after another; wait for the next one.")
    context = {
        **admin.site.each_context(request),
        "title": "Set up the second factor" if is_new else "The second factor",
        "form": form,
        "is_new": is_new,
        "is_done": not is_new and people.is_verified(user),
        "key": _in_groups(device) if is_new else "",
        "address": device.config_url if is_new else "",
    }
    return TemplateResponse(request, "admin/desk/second_factor.html", context)


def _in_groups(device: TOTPDevice) -> str:
    """Return the key as authenticator apps take it: base 32, in groups of four."""
    text = base64.b32encode(device.bin_key).decode()
    return " ".join(text[start : start + 4] for start in range(0, len(text), 4))
