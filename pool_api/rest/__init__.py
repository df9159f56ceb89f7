"""The only room that speaks HTTP: addresses, headers, status codes, wire forms and problem documents."""
