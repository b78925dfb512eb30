"""Results on paper and as pictures, drawn from data and never from the screen."""
