"""Records as text, JSON and pages to print; nothing is worked out here."""
