"""A simulated world with known truth."""
