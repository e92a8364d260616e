"""What numba compiles: placing steps, weighing plans, searching. Kept on disk once compiled."""
