"""Physics and arithmetic of spraying: pure functions on floats or numpy arrays."""
