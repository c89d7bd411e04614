"""What must be dyed for all that is promised, and on which session it can be."""
