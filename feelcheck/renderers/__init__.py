"""Results as text, JSON, figures and pages; a module a kind, so that a command loads only its own."""
