"""What is asked for kiln jobs: the pieces and what is wanted of them, and what is done with them after."""
