"""Files that are handed out; see `trainer.files`."""

from trainer.files import PART, write_file

__all__ = ["PART", "write_file"]
