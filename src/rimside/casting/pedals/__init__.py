"""The pedal plan (H8): what figures ask of the dampers, the fewest actions that give it, and who could do them."""
