"""Correlations, flow and chemistry, one topic a file; kernels are imported from their modules."""
