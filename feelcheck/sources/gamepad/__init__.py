"""Pads through SDL's joystick queue: real ones and a virtual one."""
