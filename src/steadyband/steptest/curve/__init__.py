"""From the samples of a test to its curve, edges and zone set."""
