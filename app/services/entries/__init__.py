"""What phones send: kinds and bodies, which entries stand (`standing`, the one rule), files."""
