"""The HTTP edge: addresses, shapes, tokens, problems. Views translate; what is done is done in the services."""
