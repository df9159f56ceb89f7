"""The reading of the vendor's files: bytes in, plain values out; no HTTP, no SQL, no clock, nothing kept.

read_table  bytes -> a table of text with line numbers     (table.py)
propose     a table -> a column profile and its doubts     (proposal.py)
read        a table, a profile, an account -> its reading  (columns.py)
"""

from pool_api.intake.columns import read
from pool_api.intake.profile import Profile
from pool_api.intake.proposal import Proposal, propose
from pool_api.intake.table import Table, read_table

__all__ = ["Profile", "Proposal", "Table", "propose", "read", "read_table"]
