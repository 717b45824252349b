"""The gate stop: what the electronics do after the stick has hit the hard rim."""
