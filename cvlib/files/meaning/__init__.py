"""What a file that has the right shape means: shapes in, model out, every fault collected."""
