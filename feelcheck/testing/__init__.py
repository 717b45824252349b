"""Simulated worlds that only tests use; no room of the product may import this one."""
