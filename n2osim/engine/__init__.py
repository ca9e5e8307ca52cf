"""From a scenario to rows of numbers: packing to arrays, the compiled integration, events."""
