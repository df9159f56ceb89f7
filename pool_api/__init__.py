"""The credit pool service: the shared book of shops that buy prepaid vendor credits together."""
