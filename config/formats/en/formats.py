"""Formats of the desk; Django's own for English hide the zone."""

DATE_FORMAT = "Y-m-d"
TIME_FORMAT = "H:i e"
DATETIME_FORMAT = "Y-m-d H:i e"
