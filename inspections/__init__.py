"""The service: records, what may be done with them, and who may do it."""
