"""How bytes become characters: which encodings are known, and what is refused as not being text.

UTF-8 and marked UTF-16 prove themselves. Anything else is one of the old code pages: the one that a profile states, or
else the one that a detector finds likeliest; which one was used is always said, and a guess is a doubt.
"""

import re
from codecs import BOM_UTF8, BOM_UTF16_BE, BOM_UTF16_LE

import chardet

from pool_api.domain.errors import FileUnreadable

UTF_8, UTF_16 = "utf-8", "utf-16"
CODE_PAGES = (
    "windows-1250",
    "windows-1251",
    "windows-1252",
    "windows-1253",
    "windows-1254",
    "windows-1255",
    "windows-1256",
    "windows-1257",
    "windows-1258",
    "iso-8859-1",
    "iso-8859-2",
    "iso-8859-5",
    "iso-8859-7",
    "iso-8859-9",
    "iso-8859-15",
    "mac-roman",
    "cp437",
    "cp850",
    "cp852",
    "cp866",
    "koi8-r",
    "cp932",
    "euc-jp",
    "gb18030",
    "big5hkscs",
    "cp949",
)
"""The encodings that are read besides UTF-8 and UTF-16, by the names that a profile states them by."""

_BY_CODEC = (
    {name.replace("windows-", "cp").replace("iso-", "iso"): name for name in CODE_PAGES}
    | {name: name for name in CODE_PAGES}
    | {"euc-jis-2004": "euc-jp", "euc_jis_2004": "euc-jp"}
)
_MARKS = (
    (BOM_UTF8, "utf-8", UTF_8),
    (BOM_UTF16_LE, "utf-16-le", UTF_16),
    (BOM_UTF16_BE, "utf-16-be", UTF_16),
)
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
"""Characters that no text of people holds: controls but tab and the ends of lines."""

_LINE_END = re.compile(r"\r\n|\r|\n")
_UNKNOWN = "\N{REPLACEMENT CHARACTER}"


def decoded(content: bytes, stated: str | None = None) -> tuple[str, str]:
    """Give the text and the name of its encoding.

    Takes:   stated — the code page to read what is neither UTF-8 nor UTF-16 by; None for the likeliest.
    Refuses: FileUnreadable with the place of the first byte that fits no known encoding, or of a control character."""
    text, encoding = _characters(content, stated)
    control = CONTROL.search(text)
    if control:
        line, column = place(text, control.start(), 1)
        raise FileUnreadable(
            reason=f"{control_named(control.group())}, so it isn't plain text", line=line, column=column
        )
    return text, encoding


def control_named(sign: str) -> str:
    """Say that something holds a control character."""
    return "it holds a NUL character" if sign == "\0" else f"it holds the control character U+{ord(sign):04X}"


def place(text: str, at: int, first_line: int) -> tuple[int, int]:
    """Give line and column, the latter from 1, of a character of a text whose first line has the number first_line."""
    ends = [end.end() for end in _LINE_END.finditer(text, 0, at)]
    return first_line + len(ends), at - (ends[-1] if ends else 0) + 1


def _characters(content: bytes, stated: str | None) -> tuple[str, str]:
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
        before = content[: broken.start].decode("utf-8")
    return _of_a_code_page(content, stated, before)


def _of_a_code_page(content: bytes, stated: str | None, before: str) -> tuple[str, str]:
    """Read what isn't UTF-8; before is its beginning that would be."""
    if _is_mostly_utf_8(content):
        raise _unreadable("it is UTF-8 but for a byte that doesn't fit; encodings are mixed or it is cut off", before)
    encoding = stated or _likeliest(content)
    if encoding is None:
        raise _unreadable("it is neither UTF-8 nor text of a known code page; export it as UTF-8", before)
    try:
        return content.decode(encoding), encoding
    except UnicodeDecodeError as broken:
        before = content[: broken.start].decode(encoding, "replace")
        raise _unreadable(f"it isn't UTF-8, and read as {encoding} a byte doesn't fit", before) from None


def _is_mostly_utf_8(content: bytes) -> bool:
    """Tell whether at least as many characters are proper UTF-8 beyond ASCII as bytes aren't: hardly ever by chance."""
    text = content.decode("utf-8", "replace")
    broken = text.count(_UNKNOWN)
    return sum(map(len, re.findall(r"[^\x00-\x7f]+", text))) >= 2 * broken


def _likeliest(content: bytes) -> str | None:
    found = chardet.detect(content, include_encodings=CODE_PAGES, prefer_superset=True, compat_names=False)["encoding"]
    return None if found is None else _BY_CODEC.get(found)


def _unreadable(reason: str, before: str) -> FileUnreadable:
    line, column = place(before, len(before), 1)
    return FileUnreadable(reason=reason, line=line, column=column)
