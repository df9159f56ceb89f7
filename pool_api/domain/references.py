"""Whether a command says again what an entry with its reference says: so a request is found again however late.

What is recorded states more than what was asked for where the book had to say how much; this file knows where.
"""

from dataclasses import replace

from pool_api.domain.entries import Command, Entry, Payment, Reversal
from pool_api.domain.errors import ReferenceTaken


def recorded_as(used: Entry, command: Command) -> Entry:
    """Give the entry that has a command's reference when the command says the same again: where it leaves to the book
    how much is left, or goes beyond, what the book said then. Refuses: ReferenceTaken."""
    body = command.body
    match body, used.body:
        case Reversal(), Reversal():
            quantity = used.body.quantity if body.quantity is None else body.quantity
            body = replace(used.body, entry=body.entry, quantity=quantity)
        case Payment(beyond=None), Payment(beyond=beyond):
            body = replace(body, beyond=beyond)
    if (used.body, used.effective_on, used.note) != (body, command.effective_on, command.note):
        raise ReferenceTaken(reference=command.reference or "", entry=used.number)
    return used
