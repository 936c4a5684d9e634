"""What each kind of entry must hold: one strict model a kind."""
