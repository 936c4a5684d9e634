"""Sites."""
