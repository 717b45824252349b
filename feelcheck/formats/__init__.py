"""Files in and out: sessions, delimited axis logs, scope captures."""
