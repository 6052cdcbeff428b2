"""From a loss to a contact: noise, budget, modes, chance, exposure."""
