"""The drawer of kept patterns."""
