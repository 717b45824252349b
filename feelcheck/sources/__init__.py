"""Where stick events come from: pads, simulated worlds, replays."""
