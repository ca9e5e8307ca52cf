"""Studies: ensembles, sweeps, Monte Carlo, sensitivity: one scenario varied many times."""
