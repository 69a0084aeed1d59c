"""Reads a photo of a metal shaper's paper pattern into a true-size record."""
