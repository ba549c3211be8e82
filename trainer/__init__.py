"""Begin a memorised piece anywhere."""
