"""Reads a photo of a metal shaper's paper pattern into a true-size record."""

__version__ = "0.2.0"
