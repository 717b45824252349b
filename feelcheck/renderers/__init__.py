"""Results as text, JSON, figures and pages."""
