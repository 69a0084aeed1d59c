"""The floor: a photo's pixels carried to millimetres on the plane that card and paper lie on."""
