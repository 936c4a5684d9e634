"""The invented demonstration: the scenario, its entries, its record. A floor over the services."""
