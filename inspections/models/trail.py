"""What happened: the audit trail, the event feed, answers kept for blind retries."""

import uuid

from django.db import models

from inspections.models.base import Owned


class AuditEntry(models.Model):
    """One change of one record, hashed together with the entry before it. Never updated, never deleted."""

    id = models.BigAutoField(primary_key=True)
    organisation = models.ForeignKey("inspections.Organisation", on_delete=models.PROTECT, related_name="+", null=True)
    record_type = models.CharField(max_length=40)
    record_id = models.CharField(max_length=64)
    number = models.PositiveIntegerField(help_text="1, 2, 3 ... within the record")
    at = models.DateTimeField()
    actor = models.CharField(max_length=200)
    through = models.CharField(max_length=20, help_text="api, admin, command, worker")
    request_id = models.CharField(max_length=64)
    action = models.CharField(max_length=40)
    reason = models.TextField(default="")
    before = models.TextField(help_text="JSON")
    after = models.TextField(help_text="JSON")
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        verbose_name_plural = "audit entries"
        constraints = [
            models.UniqueConstraint(fields=["record_type", "record_id", "number"], name="audit_number_once"),
        ]
        indexes = [models.Index(fields=["organisation", "id"], name="audit_page")]

    def __str__(self) -> str:
        return f"{self.record_type} {self.action}"


class AuditHead(models.Model):
    """The newest hash of one record's chain, so that a removed tail is noticed."""

    record_type = models.CharField(max_length=40)
    record_id = models.CharField(max_length=64)
    number = models.PositiveIntegerField()
    hash = models.CharField(max_length=64)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["record_type", "record_id"], name="audit_head_once")]


class PersonalValue(Owned):
    """One personal value that an audit entry is bound to by its digest: erasable, while the entry is not.

    The digest is taken with salt of its own, so that once this row is gone nobody can find the value by trying.
    """

    digest = models.CharField(primary_key=True, max_length=64, editable=False)
    customer = models.UUIDField(help_text="whose it is; no reference, for customers may be taken away")
    salt = models.CharField(max_length=32)
    value = models.TextField()

    class Meta:
        indexes = [models.Index(fields=["organisation", "customer"], name="personal_value_whose")]

    def __str__(self) -> str:
        return self.digest


class Event(Owned):
    """One committed change that others follow. `transaction` orders events by what readers may see."""

    number = models.BigAutoField(primary_key=True)
    id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    transaction = models.BigIntegerField(editable=False)
    request_id = models.CharField(max_length=64, default="", db_default="", editable=False)
    type = models.CharField(max_length=60)
    time = models.DateTimeField()
    subject = models.CharField(max_length=200)
    data = models.TextField()

    class Meta:
        indexes = [models.Index(fields=["organisation", "transaction", "number"], name="event_feed")]

    def __str__(self) -> str:
        return self.type


class KeptAnswer(Owned):
    """The first answer to an Idempotency-Key, byte for byte, written in the transaction of its effect."""

    client = models.CharField(max_length=100)
    key = models.CharField(max_length=255)
    fingerprint = models.CharField(max_length=64, help_text="digest of method, path and body")
    status = models.PositiveSmallIntegerField()
    headers = models.TextField()
    body = models.BinaryField()
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organisation", "client", "key"], name="kept_answer_once"),
        ]
        indexes = [models.Index(fields=["created_at"], name="kept_answer_age")]
