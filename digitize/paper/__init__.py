"""The paper against the floor: its outline."""
