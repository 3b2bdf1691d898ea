"""The pages: one question each, no arithmetic."""
