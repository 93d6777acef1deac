"""The desk: readable lists of every record for dispatchers and auditors."""
