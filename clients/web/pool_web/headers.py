"""Which column of a table says what, as a form: a choice for each column of a file's header.

A form carries the header's words beside the choices, so that it is read without the file.
"""

import re
from collections.abc import Iterable, Mapping, Sequence

from pool_web.forms import Form

MOST_COLUMNS = 200
_MOST_VALUES = 3
_A_NAME = re.compile("[a-z0-9][a-z0-9-]{0,39}")

Meanings = Sequence[tuple[str, str]]
"""What a column can say: names, with words for them."""


def carried_words(header: Sequence[str]) -> dict[str, str]:
    """Give the words of a header as the form carries them."""
    return {f"word_{at}": word for at, word in enumerate(header[:MOST_COLUMNS])}


def means(header: Sequence[str], roles: Mapping[str, str]) -> dict[str, str]:
    """Fill the choices in: roles are header words by what their columns say."""
    said = {word: role for role, word in roles.items()}
    return {f"means_{at}": said.get(word, "") for at, word in enumerate(header)}


def roles_in(form: Form, meanings: Meanings) -> dict[str, str]:
    """Give the header words that were chosen, by what their columns say; what two columns say is told beside the later
    one."""
    roles: dict[str, str] = {}
    for at in range(MOST_COLUMNS):
        role = form[f"means_{at}"]
        if not role:
            continue
        form.chosen(f"means_{at}", named(meanings))
        if role in roles:
            form.problems[f"means_{at}"] = f"{roles[role]} says that already."
        roles[role] = form.texts.get(f"word_{at}", "")
    return roles


def samples(header: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Give what stands in each column, for instance."""
    columns = [dict.fromkeys(row[at] for row in rows if row[at]) for at in range(len(header))]
    return [", ".join([*values][:_MOST_VALUES]) for values in columns]


def layout_name(form: Form, name: str) -> str:
    """Read what a layout is to be called."""
    if not _A_NAME.fullmatch(form[name]):
        form.problems[name] = "Up to 40 small letters, digits and hyphens."
    return form[name]


def named(choices: Iterable[tuple[str, str]]) -> list[str]:
    """Give the names of choices."""
    return [name for name, _ in choices]
