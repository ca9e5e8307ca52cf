"""Learning from the car: logs, weighed passes, calibration."""
