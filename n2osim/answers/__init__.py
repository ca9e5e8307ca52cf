"""Answers to a builder's and a tuner's questions, each on the whole scenario."""
