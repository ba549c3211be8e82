"""Entry points, their route, their edits, and the file a teacher hands out."""
