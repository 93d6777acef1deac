"""Calls to addresses that others named: where they may go, how they are signed, how they are bounded."""
