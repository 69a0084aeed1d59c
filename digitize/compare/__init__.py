"""One pattern against another."""
