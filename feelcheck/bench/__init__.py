"""Scope captures: edges, drive-aware response, stair steps, noise."""
