"""People at the desk: their passwords and their second factors, each change noted in the trail, never its secret."""

from typing import Any, cast

from django.db import transaction
from django_otp.plugins.otp_totp.models import TOTPDevice

from inspections.actor import Actor
from inspections.models import Organisation, User
from inspections.services import trail


def above_organisations(name: str, through: str, request_id: str = "") -> Actor:
    """Return an actor who runs the service and belongs to no organisation; only for entries about such people."""
    return Actor(cast(Organisation, None), client="", name=name, through=through, request_id=request_id)


def administrator_set(*, actor: Actor, username: str, password: str) -> User:
    """Make the administrator of an organisation, or give the one there is a new password and let them enrol anew.

    The password is good for one sign-in: the desk opens once it is changed.
    """
    with transaction.atomic():
        user, is_new = User.objects.get_or_create(
            username=username, defaults={"organisation": actor.organisation, "is_staff": True}
        )
        user.role, user.is_staff, user.is_superuser = "administrator", True, True
        user.organisation = actor.organisation
        user.set_password(password)
        user.must_change_password = True
        user.save()
        TOTPDevice.objects.filter(user=user).delete()
        action = "made" if is_new else "password_set"
        _noted(actor, user, action, after={"username": username, "role": user.role})
        return user


def password_set(*, actor: Actor, user: User, by_self: bool) -> None:
    """Note that a password was set; one that somebody else chose must be changed at the next sign-in."""
    with transaction.atomic():
        User.objects.filter(pk=user.pk).update(must_change_password=not by_self)
        _noted(actor, user, "password_set")


def password_owned(*, actor: Actor, user: User) -> None:
    """Note that somebody changed their own password."""
    with transaction.atomic():
        User.objects.filter(pk=user.pk).update(must_change_password=False)
        _noted(actor, user, "password_changed")


def second_factor_of(user: User) -> TOTPDevice | None:
    """Return the second factor somebody enrolled, if they did."""
    found: TOTPDevice | None = TOTPDevice.objects.filter(user=user, confirmed=True).first()
    return found


def is_verified(user: User) -> bool:
    """Tell whether this session gave the second factor; the middleware of django-otp says it on the user."""
    return getattr(user, "otp_device", None) is not None


def second_factor_begun(*, user: User) -> TOTPDevice:
    """Return the factor somebody is about to enrol; it counts once a code was typed."""
    device: TOTPDevice
    device, _ = TOTPDevice.objects.get_or_create(user=user, confirmed=False, defaults={"name": "authenticator app"})
    return device


def second_factor_confirm(*, actor: Actor, user: User, device: TOTPDevice) -> None:
    """Count a factor from now on: its first code fitted."""
    with transaction.atomic():
        device.confirmed = True
        device.save(update_fields=["confirmed"])
        _noted(actor, user, "second_factor_enrolled")


def second_factor_forget(*, actor: Actor, user: User) -> bool:
    """Take away a second factor that was lost; its owner enrols anew. False where there is none."""
    with transaction.atomic():
        if not TOTPDevice.objects.filter(user=user).delete()[0]:
            return False
        _noted(actor, user, "second_factor_taken_away")
        return True


def _noted(actor: Actor, user: User, action: str, after: Any = None) -> None:
    trail.entry(actor=actor, record_type="user", record_id=str(user.pk), action=action, after=after)
