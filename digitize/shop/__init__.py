"""What the metal needs from a pattern."""
