"""The pages: the book for people, on a phone at the counter and on a desk at month's end.

They speak to the service through pool_client alone, as any other program would."""
