"""Characters that a terminal, a reader or a page would obey instead of showing them.

They are the controls of Unicode (C0, DEL and C1: category Cc), the separators of lines and of
paragraphs, single surrogates, and those format characters (category Cf) that turn the direction
of writing or cannot be seen. Two format characters are none of them: the joiners U+200C and
U+200D, without which names in some scripts are misspelt. Visible signs of the category Cf, such
as the Arabic signs of numbers, are text.

Source: the Unicode Standard, chapter 23 (special areas and format characters), and Unicode
Standard Annex 9, 2 (the directional formatting characters).
"""

from __future__ import annotations

import re

CONTROLS = re.compile(
    "[\x00-\x1f\x7f-\x9f\xad\u061c\u180e\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ud800-\udfff"
    "\ufeff\ufff9-\ufffb\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U000e007f]"
)
"""One such character."""


def visible(text: str) -> str:
    r"""The text with each control as its code, such as \x1b or \u202e."""
    return text if text.isprintable() else CONTROLS.sub(_code, text)


def _code(found: re.Match[str]) -> str:
    number = ord(found[0])
    if number < 0x100:
        return f"\\x{number:02x}"
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"


def in_json(text: str) -> str:
    r"""A JSON text of the same value, with each control as its code, such as \u001b (RFC 8259, 7).
    Line breaks between the values stay."""
    return text if text.isascii() and "\x7f" not in text else CONTROLS.sub(_json_code, text)


def _json_code(found: re.Match[str]) -> str:
    if found[0] in "\n\r\t":  # never inside a JSON string as they are
        return found[0]
    units = found[0].encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[i]:02x}{units[i + 1]:02x}" for i in range(0, len(units), 2))
