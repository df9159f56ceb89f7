"""A month as documents for people: statements, the keeper's report, postings and payment files; pure functions of a
month's facts."""
