"""The arithmetic of a change before it is made: asked, answered, told."""
