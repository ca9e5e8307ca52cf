"""What is simulated: the scenario, the items of its schedule, files in and out."""
