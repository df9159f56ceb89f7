"""The calls of the service, described as plain values: what is sent and how the answer is read. No input or output.

Each description stands here once; client.py binds them all to a client that waits and to one that is awaited.
"""
