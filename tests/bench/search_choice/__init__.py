"""How many searches, how coarse the levels, which plan is taken: alternatives to what the project's search does."""
