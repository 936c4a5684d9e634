"""Sites and structures, what is dated about them, people, changes."""
