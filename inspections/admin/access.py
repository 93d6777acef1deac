"""Organisations, people at the desk, and the keys of clients."""

from typing import Any

from django.contrib import admin, messages
from django.contrib.auth.admin import UserAdmin as PasswordsAdmin
from django.contrib.auth.forms import AdminUserCreationForm, UserChangeForm
from django.contrib.auth.models import Group
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django_otp.plugins.otp_totp.admin import TOTPDevice

from inspections.admin import own_account, roles, shown
from inspections.admin.desk import DeskAdmin, SealedAdmin
from inspections.models import ApiToken, Organisation, User
from inspections.services import organisations, people, tokens, trail

_TOLD = ("username", "first_name", "last_name", "email", "role", "is_active")


@admin.register(Organisation)
class OrganisationAdmin(DeskAdmin):
    """Firms and agencies. Whoever runs the service makes them; each starts with schemes, rates and rules."""

    within = "pk"
    record_type = "organisation"
    list_display = ("name", "created_at")
    search_fields = ("name",)
    ordering = ("name",)
    fields = ("name",)

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return roles.sees_all(request)

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        obj.pk = organisations.organisation_create(name=obj.name, through="admin").pk


class NewUserForm(AdminUserCreationForm):  # type: ignore[type-arg] # generic only in the stubs
    """A new person, with a first password."""

    class Meta(AdminUserCreationForm.Meta):
        model = User


class UserForm(UserChangeForm):  # type: ignore[type-arg] # same
    """A person; the password has a page of its own."""

    class Meta(UserChangeForm.Meta):
        model = User


@admin.register(User)
class UserAdmin(PasswordsAdmin, DeskAdmin):  # type: ignore[type-arg,misc] # same; the stubs differ in Any
    """People who sign in at the desk. Who leaves is made inactive: what they did stays theirs."""

    form = UserForm  # type: ignore[assignment] # Django's own, which knows hashed passwords
    add_form = NewUserForm
    record_type = "user"
    list_display = ("username", "name", "email", "role", "is_active", "last_login", "organisation")
    list_filter = ("role", "is_active")
    list_select_related = ("organisation",)
    search_fields = ("username", "first_name", "last_name", "email")
    filter_horizontal = ()
    actions = ("forget_second_factor",)
    readonly_fields = ("last_login", "date_joined", "organisation")

    def get_fieldsets(self, request: HttpRequest, obj: Any = None) -> Any:
        whose = ("organisation",) if roles.sees_all(request) else ()
        if obj is None:
            passwords = ("usable_password", "password1", "password2")
            return [(None, {"classes": ("wide",), "fields": ("username", *passwords, "role", *whose)})]
        return [(None, {"fields": (*_TOLD, "password", "organisation", "last_login", "date_joined")})]

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        return self.readonly_fields if obj is not None else ()

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return roles.sees_all(request) or super().has_add_permission(request)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        # Who runs the service is not an organisation's to change, least of all their password.
        is_above = obj is not None and obj.is_superuser and not roles.person(request).is_superuser
        return super().has_change_permission(request, obj) and not is_above

    @admin.display(description="name", ordering="last_name")
    def name(self, row: User) -> str:
        return row.get_full_name() or shown.NOTHING

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        before = _told(User.objects.get(pk=obj.pk)) if change else None
        if not change:
            obj.is_staff = obj.must_change_password = True
            obj.organisation = obj.organisation or roles.person(request).organisation
        obj.save()
        _noted(request, obj, "changed" if change else "made", before=before, after=_told(obj))

    def user_change_password(self, request: HttpRequest, id: str, form_url: str = "") -> HttpResponse:
        """Set a person's password; the trail says that it was set, never to what."""
        with transaction.atomic():
            was = User.objects.filter(pk=id).values_list("password", flat=True).first() if id.isdigit() else None
            response: HttpResponse = super().user_change_password(request, id, form_url)
            row = User.objects.filter(pk=id).first() if id.isdigit() else None
            if row is not None and row.password != was:
                by_self = row.pk == roles.person(request).pk
                people.password_set(actor=own_account.actor_of(request, row), user=row, by_self=by_self)
            return response

    @admin.action(description="Take away the second factor: they enrol anew", permissions=["change"])
    def forget_second_factor(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        """Help those who lost their authenticator."""
        chosen = [row for row in rows.select_related("organisation") if self.has_change_permission(request, row)]
        gone = [
            row for row in chosen if people.second_factor_forget(actor=own_account.actor_of(request, row), user=row)
        ]
        messages.success(request, f"{len(gone)} enrol anew at their next sign-in.")


def _told(row: User) -> dict[str, Any]:
    return {name: getattr(row, name) for name in _TOLD}


def _noted(request: HttpRequest, row: User, action: str, *, before: Any, after: Any) -> None:
    actor = own_account.actor_of(request, row)
    trail.entry(actor=actor, record_type="user", record_id=str(row.pk), action=action, before=before, after=after)


@admin.register(ApiToken)
class ApiTokenAdmin(SealedAdmin):
    """Clients' keys: looked at and revoked. The token itself was shown once, when it was made."""

    record_type = "token"
    ordering = ("-created_at", "-id")
    list_display = ("client", "hint", "allows", "created_at", "expires_at", "last_used_at", "revoked_at")
    list_filter = (("revoked_at", admin.EmptyFieldListFilter),)
    search_fields = ("client", "hint")
    actions = ("revoke",)
    fields = ("client", "hint", "allows", "created_at", "expires_at", "last_used_at", "revoked_at")
    readonly_fields = ("allows",)

    @admin.display(description="allows")
    def allows(self, row: ApiToken) -> str:
        return ", ".join(row.scopes)

    @admin.action(description="Revoke: the client is shut out at once", permissions=["act"])
    def revoke(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        """Revoke each chosen token."""
        chosen = list(rows.select_related("organisation"))
        revoked = [row for row in chosen if tokens.token_revoke(actor=self.actor(request, row), row=row)]
        messages.success(request, f"{len(revoked)} revoked.")


# Rights come from roles; groups would promise what nothing reads.
admin.site.unregister(Group)
# Its page shows the keys of people's second factors.
admin.site.unregister(TOTPDevice)
