"""A live stick played through a chosen response: free feel, blind trials, a threshold of one's own, aiming."""
