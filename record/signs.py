"""Signs that steer a screen in place of being read: control and direction signs, and unseen ones.

A name with an escape sequence can clear a terminal, one with a direction override (Unicode 16.0,
section 23.2; the attack is described in CVE-2021-42574) can show another name than it has. In text
that is shown they are written out; a person's name has none.
"""

from __future__ import annotations

import re

# C0 but tab and line feed, DEL and C1; marks, embeddings, overrides and isolates of direction;
# separators of lines; signs of no width, but the joiners that some scripts need; half surrogates.
STEERING = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u180e\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff"
    "\ufff9-\ufffb\U000e0000-\U000e007f\ud800-\udfff]"
)


def written_out(text: str) -> str:
    """Give text with each such sign as its number in hex. Lines and tabs stay."""
    return STEERING.sub(lambda found: _number(found[0]), text)


def _number(sign: str) -> str:
    code = ord(sign)
    if 0xDC80 <= code <= 0xDCFF:  # a byte of a file's name that is not UTF-8
        return f"\\x{code - 0xDC00:02x}"
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def in_json(text: str) -> str:
    """Give JSON text with each such sign as JSON escapes it: the same data, and nothing steers."""
    return STEERING.sub(lambda found: _escaped(ord(found[0])), text)


def _escaped(code: int) -> str:
    if code < 0x10000:
        return f"\\u{code:04x}"
    high, low = divmod(code - 0x10000, 0x400)
    return f"\\u{0xD800 + high:04x}\\u{0xDC00 + low:04x}"
