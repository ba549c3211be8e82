"""The drill: its kinds, the order of its calls, and its state machine."""
