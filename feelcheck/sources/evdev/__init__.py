"""A pad through Linux's event devices: the kernel's own stamps, no library in between."""
