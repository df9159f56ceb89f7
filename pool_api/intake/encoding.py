"""How bytes become characters: which encodings are known, and what is refused as not being text.

UTF-8 with or without a mark, UTF-16 with a mark; everything else only as Windows-1252, and only where the outcome looks
like text of western Europe. Which one was used is always said.
"""

import codecs
import re

from pool_api.domain.errors import FileUnreadable

UTF_8, UTF_16, WINDOWS_1252 = "utf-8", "utf-16", "windows-1252"

_MARKS = (
    (codecs.BOM_UTF8, "utf-8", UTF_8),
    (codecs.BOM_UTF16_LE, "utf-16-le", UTF_16),
    (codecs.BOM_UTF16_BE, "utf-16-be", UTF_16),
)
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_LINE_END = re.compile(r"\r\n|\r|\n")
_TWO_BYTES_OF_UTF_8 = re.compile(rb"[\xc2-\xf4][\x80-\xbf]")
_SIGNS = frozenset(
    bytes.fromhex(
        "80 82 84 85 91 92 93 94 95 96 97 a0 a1 a3 a5 a7 a9 ab ae b0 b1 b2 b3 b4 b7 b9 bb bc bd be bf d7"
    ).decode("cp1252")
)
"""The signs of Windows-1252 that stand in prose: quotes, dashes, currencies, degrees, small powers and fractions."""


def decoded(content: bytes) -> tuple[str, str]:
    """Give the text and the name of its encoding.

    Refuses: FileUnreadable with the place of the first byte that fits no known encoding, or of a control character."""
    text, encoding = _characters(content)
    control = _CONTROL.search(text)
    if control:
        line, column = place(text, control.start(), 1)
        sign = ord(control.group())
        reason = "it holds a NUL character" if sign == 0 else f"it holds the control character U+{sign:04X}"
        raise FileUnreadable(reason=f"{reason}, so it isn't plain text", line=line, column=column)
    return text, encoding


def place(text: str, at: int, first_line: int) -> tuple[int, int]:
    """Give line and column, the latter from 1, of a character of a text whose first line has the number first_line."""
    ends = [end.end() for end in _LINE_END.finditer(text, 0, at)]
    return first_line + len(ends), at - (ends[-1] if ends else 0) + 1


def _characters(content: bytes) -> tuple[str, str]:
    for mark, codec, name in _MARKS:
        if content.startswith(mark):
            try:
                return content[len(mark) :].decode(codec), name
            except UnicodeDecodeError as broken:
                before = content[len(mark) : len(mark) + broken.start].decode(codec)
                raise _unreadable(f"it says that it is {name.upper()}, but a byte doesn't fit", before) from None
    try:
        return content.decode("utf-8"), UTF_8
    except UnicodeDecodeError as broken:
        text = _western(content)
        if text is None:
            before = content[: broken.start].decode("utf-8")
            reason = "it is neither UTF-8 nor plausible Windows-1252; export it as UTF-8"
            raise _unreadable(reason, before) from None
        return text, WINDOWS_1252


def _western(content: bytes) -> str | None:
    """Give the text read as Windows-1252, None unless it looks like text of western Europe: not UTF-8 with a flaw, all
    special characters letters or common signs, and few letters special (another code page makes most of them so)."""
    try:
        text = content.decode("cp1252")
    except UnicodeDecodeError:
        return None
    special = [character for character in text if not character.isascii()]
    flawed = 4 * len(_TWO_BYTES_OF_UTF_8.findall(content)) > len(special)
    strange = any(not character.isalpha() and character not in _SIGNS for character in special)
    letters, special_letters = sum(map(str.isalpha, text)), sum(map(str.isalpha, special))
    foreign = 4 * special_letters > max(letters, 16)
    return None if flawed or strange or foreign else text


def _unreadable(reason: str, before: str) -> FileUnreadable:
    line, column = place(before, len(before), 1)
    return FileUnreadable(reason=reason, line=line, column=column)
