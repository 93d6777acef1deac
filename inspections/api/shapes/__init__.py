"""The shapes of documents in and out, by subject. They describe and check; they do not act."""
