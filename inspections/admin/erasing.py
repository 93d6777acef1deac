"""Erasing a customer's personal data at the desk, with the reason; for administrators."""

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.template.response import TemplateResponse
from django.urls import URLPattern, path, reverse

from inspections.admin.desk import DeskAdmin
from inspections.services import erasing


class ErasureForm(forms.Form):
    """Why, and that it is meant."""

    reason = forms.CharField(
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3, "cols": 80}),
        help_text="kept in the trail for ever; name no person in it",
    )
    is_meant = forms.BooleanField(label="Erase; this cannot be taken back")


class Erasable(DeskAdmin):
    """A page of customers whose personal data can be erased."""

    change_form_template = "admin/desk/customer.html"

    def render_change_form(self, request: HttpRequest, context: Any, *args: Any, **options: Any) -> HttpResponse:
        row = options.get("obj")
        context["may_erase"] = row is not None and row.erased_at is None and self.has_act_permission(request)
        return super().render_change_form(request, context, *args, **options)

    def get_urls(self) -> list[URLPattern]:
        own = path("<uuid:id>/erase/", self.admin_site.admin_view(self.erase_view), name="customer_erase")
        return [own, *super().get_urls()]

    def erase_view(self, request: HttpRequest, id: Any) -> HttpResponse:
        """Ask for the reason, then erase."""
        if not self.has_act_permission(request):
            raise PermissionDenied
        row = self.get_queryset(request).select_related("organisation").filter(pk=id).first()
        if row is None:
            raise Http404("There is no such customer here.")
        form = ErasureForm(request.POST or None)
        if request.method == "POST" and form.is_valid():
            erasing.customer_erase(actor=self.actor(request, row), id=row.pk, reason=form.cleaned_data["reason"])
            messages.success(request, "The customer's personal data are erased.")
            return HttpResponseRedirect(reverse("admin:inspections_customer_change", args=[row.pk]))
        context = {
            **self.admin_site.each_context(request),
            "title": f"Erase the personal data of {row}",
            "opts": self.opts,
            "row": row,
            "form": form,
        }
        return TemplateResponse(request, "admin/desk/erase.html", context)
