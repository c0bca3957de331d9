"""From time stamps to the even grid on which a logger sampled."""
