"""Slits and folds, their laps, and the zones over which the metal is shrunk."""
