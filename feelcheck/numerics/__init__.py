"""Numerical kernels that know nothing of sticks or scopes."""
