"""Reading: every query starts from one organisation, so that another's record does not exist."""
