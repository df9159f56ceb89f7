"""What the service speaks of, as frozen values, a file per subject. Credits are int, money is Decimal, never float."""
