"""Long-throated flumes: ISO sections, any section, what they share, their outline."""
