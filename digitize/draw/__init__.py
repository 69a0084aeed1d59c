"""Writers: a pattern in, a drawing out."""
