"""The file that a piece was read from, kept beside it so that marks can be put into it later."""

from __future__ import annotations

import gzip
import zlib

from trainer.errors import TrainerError
from trainer.score import files
from trainer.score.files import ScoreFile
from trainer.score.text import clean
from trainer.values import Frozen

MOST_NAME = 200  # characters
_GZIP = 16 + zlib.MAX_WBITS


class Original(Frozen, frozen=True):
    """A score file as it was: `name` without a path, `content` its bytes, compressed by gzip
    (RFC 1952)."""

    name: str
    content: bytes

    def data(self) -> bytes:
        """The bytes of the file. Raises TrainerError where they cannot be unpacked."""
        try:
            unpacker = zlib.decompressobj(wbits=_GZIP)
            data = unpacker.decompress(self.content, files.LARGEST + 1)
            if len(data) > files.LARGEST:
                raise TrainerError(f"{self.name} would unpack to more than 50 MB and is refused.")
            if not unpacker.eof:
                raise EOFError
        except (zlib.error, EOFError) as error:
            raise TrainerError(
                f"The kept file {self.name} is damaged: name the score file in the command."
            ) from error
        return data

    def file(self) -> ScoreFile:
        """The score in it. Raises TrainerError for what is not a score."""
        return files.opened(self.name, self.data())


def original(name: str, data: bytes) -> Original:
    """A score file as it is kept."""
    return Original(clean(name)[:MOST_NAME], gzip.compress(data, mtime=0))
