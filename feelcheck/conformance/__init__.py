"""The suites that every plugin passes; ``python -m feelcheck.conformance --plugin NAME`` runs them over one."""
