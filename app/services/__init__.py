"""Floor 2: what people do; a room a noun of the trade, as on every other floor."""
