"""The memory: the only room with SQL. Hands out and takes domain values; rows never leave it."""
