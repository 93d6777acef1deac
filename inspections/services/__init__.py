"""What may be done with the records, by subject. Every change writes its audit entry and event."""
