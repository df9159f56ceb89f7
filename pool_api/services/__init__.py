"""Use cases: one function each. Gather facts, let the core decide, hand over to the store; no HTTP, no SQL."""
