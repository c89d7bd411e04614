"""Who gets which skein, what must be dyed, and when it can be ready: plain Python that knows no Django."""
