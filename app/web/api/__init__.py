"""The door for scripts: access tokens, and the document that describes the addresses."""
