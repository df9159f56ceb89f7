"""A file on its way through a form of two steps: sent, and carried along while somebody looks at how it is understood.

The pages keep nothing about anybody, so the form itself carries the file, compressed, in a hidden field. A file that is
too large for that is chosen again at the second step, and has to be the same one.
"""

import zlib
from base64 import b64decode, b64encode
from binascii import Error as NotBase64
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256

MOST_CARRIED = 900_000
"""Characters; a field of a form takes a mebibyte."""
MOST_FILE_BYTES = 32 * 1024 * 1024
"""As much as the service takes; nothing inflates beyond it."""

FILE, CARRIED, DIGEST = "file", "file_carried", "file_digest"


@dataclass(frozen=True, slots=True)
class File:
    """A file by its bytes."""

    content: bytes

    @property
    def digest(self) -> str:
        """Which file it is."""
        return sha256(self.content).hexdigest()

    @property
    def carried(self) -> str:
        """What a form carries; nothing for a file that is too large for it."""
        packed = b64encode(zlib.compress(self.content)).decode()
        return packed if len(packed) <= MOST_CARRIED else ""


def carrying(file: File) -> dict[str, str]:
    """Give the fields in which a form carries a file."""
    return {CARRIED: file.carried, DIGEST: file.digest}


def carried_file(texts: Mapping[str, str]) -> File | None:
    """Give the file that a form carries, None where it carries none, or what is none."""
    packed = texts.get(CARRIED, "")
    if not packed:
        return None
    unpacking = zlib.decompressobj()
    try:
        content = unpacking.decompress(b64decode(packed, validate=True), MOST_FILE_BYTES)
    except (NotBase64, ValueError, zlib.error):
        return None
    return File(content) if unpacking.eof else None
