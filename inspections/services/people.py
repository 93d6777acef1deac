"""People at the desk."""

from django.db import transaction

from inspections.actor import Actor
from inspections.models import User
from inspections.services import trail


def administrator_set(*, actor: Actor, username: str, password: str) -> User:
    """Make the administrator of an organisation, or give the one there is a new password."""
    with transaction.atomic():
        user, is_new = User.objects.get_or_create(
            username=username, defaults={"organisation": actor.organisation, "is_staff": True}
        )
        user.role, user.is_staff, user.is_superuser = "administrator", True, True
        user.organisation = actor.organisation
        user.set_password(password)
        user.save()
        action = "made" if is_new else "password_set"
        trail.entry(
            actor=actor,
            record_type="user",
            record_id=str(user.pk),
            action=action,
            after={"username": username, "role": user.role},
        )
        return user
