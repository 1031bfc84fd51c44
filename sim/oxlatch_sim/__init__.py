"""Host-side simulator: physics, plant, faults, bench, recordings and proofs around the oxlatch firmware."""
