"""Whether the files on the board are the ones that were put there.

The host writes `manifest.json` last: {"firmware": eight hex digits over the source, "files": {name: SHA-256}}.
"""

import hashlib
import json
from binascii import hexlify

NAME = "manifest.json"
PIECE_BYTES = 512
UNKNOWN = "00000000"


def file_sha256(name):
    """SHA-256 of a file as hex digits, or an empty string when it cannot be read."""
    total = hashlib.sha256()
    try:
        with open(name, "rb") as stream:
            while True:
                piece = stream.read(PIECE_BYTES)
                if not piece:
                    break
                total.update(piece)
    except OSError:
        return ""
    return hexlify(total.digest()).decode()


def check_manifest(folder=""):
    """(firmware digest, "verified"), or (zeros, "absent" or "changed:" and the first such file)."""
    try:
        with open(folder + NAME) as stream:
            told = json.load(stream)
        files = told["files"]
        firmware = told["firmware"]
    except (OSError, ValueError, KeyError):
        return UNKNOWN, "absent"
    for name in sorted(files):
        if file_sha256(folder + name) != files[name]:
            return UNKNOWN, "changed:" + name
    return firmware, "verified"
