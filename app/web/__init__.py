"""Floor 3: HTTP to a service call, result to HTML; no SQL, no arithmetic."""
