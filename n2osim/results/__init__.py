"""What a run is and says: arrays, quantities, totals, the engine's side, closure."""
