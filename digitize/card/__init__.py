"""The scale card: its layout, its print, and finding it in a photo."""
