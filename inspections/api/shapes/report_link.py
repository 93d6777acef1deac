"""Shapes of links to reports: what is sent, and what is answered."""

from rest_framework import serializers as s

from inspections import vocabulary as words
from inspections.api.fields import Id, Moment, OneOf, Shape, Text, Whole
from inspections.api.shapes.answers import Shown, text, word


class ReportLinkShape(Shape):
    """A link that is to be made."""

    expires_at = Moment(help_text="When it ends, within 365 days; or say valid_days.")
    valid_days = Whole(least="1", most="365", help_text="It ends after so many days; 30 where neither is said.")
    scope = Id(help_text="Always the plans of this repair scope; those of the newest one where absent.")
    plan = OneOf(words.PLAN_NAMES, help_text="The plan that is drawn; the cheapest one where absent.")
    units = OneOf(words.UNITS, help_text="Those of the runs where absent.")
    note = Text(longest=200, help_text="For whom or what; not shown to who opens the link.")


class ReportLink(Shown):
    """A link to a report; its address is not readable again."""

    id = s.UUIDField()
    lateral = s.UUIDField()
    state = word(words.LINK_STATES)
    scope = s.UUIDField(allow_null=True)
    plan = word(words.PLAN_NAMES, allow_null=True)
    units = word(words.UNITS, allow_null=True)
    note = text()
    customer = s.UUIDField(allow_null=True, help_text="Whom the report named when the link was made.")
    made_by = s.CharField()
    created_at = s.DateTimeField()
    expires_at = s.DateTimeField()
    revoked_at = s.DateTimeField(allow_null=True)
    openings = s.IntegerField(help_text="How often it was opened; each opening stands in its history.")
    last_opened_at = s.DateTimeField(allow_null=True)


class ReportLinkMade(ReportLink):
    """A link with its address, shown this once."""

    url = s.URLField(
        allow_null=True,
        help_text=(
            "Opens the report as HTML; `?form=pdf` (and `&page=a4`) as PDF, or by Accept. Whoever has it reads the "
            "report: send it as you would send the report. null where the request is sent again."
        ),
    )
