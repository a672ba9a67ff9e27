"""Today, tomorrow and why: the views of one tank's advice."""
