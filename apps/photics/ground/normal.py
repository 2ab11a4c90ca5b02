"""What the normal law says of intervals."""

# Half of a 90 % interval of a normal law in its deviations [1]: its 95th percentile, by definition.
NORMAL_90 = 1.645
