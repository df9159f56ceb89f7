"""What the project claims, tried."""
