"""Who may do what: organisations, their people and their tokens."""

import uuid

from django.contrib.auth.models import AbstractUser
from django.db import models

from inspections.models.base import Owned, choices, one_of
from inspections.vocabulary import ROLES


class Organisation(models.Model):
    """A firm or an agency; every record belongs to exactly one."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=200, unique=True)
    created_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return self.name


class User(AbstractUser):
    """A person at the desk (admin site). Clients of the API carry tokens instead."""

    organisation = models.ForeignKey(
        Organisation, on_delete=models.PROTECT, null=True, blank=True, related_name="users"
    )
    role = models.CharField(max_length=20, choices=choices(ROLES), default="dispatcher")
    must_change_password = models.BooleanField(
        default=False, db_default=False, editable=False, help_text="somebody else chose it: good for one sign-in"
    )

    class Meta:
        constraints = [one_of("role", ROLES, name="user_role_known")]


class ApiToken(Owned):
    """A client's key. Only its digest is kept; the token itself is shown once, when it is made."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.CharField(max_length=100, help_text="the source of every record this token writes")
    digest = models.CharField(max_length=64, unique=True, editable=False)
    hint = models.CharField(max_length=12, editable=False, help_text="first characters, to tell tokens apart")
    scopes = models.JSONField(default=list)
    created_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True, editable=False)
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.client} ({self.hint}...)"
