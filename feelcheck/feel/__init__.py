"""What a response means in use: angles, trailing, bands, evidence."""
