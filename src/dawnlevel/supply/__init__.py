"""Gas cylinders, the room they stand in, solutions and meters: figures in, figures out."""
