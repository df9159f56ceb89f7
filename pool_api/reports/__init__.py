"""A month as documents for people: statements, and later sheets to print; pure functions of a month's facts."""
