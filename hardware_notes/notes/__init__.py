"""What the drawings and tables of the hardware notes are made with."""
