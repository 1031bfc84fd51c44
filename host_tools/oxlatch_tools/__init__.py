"""Host tools around the oxlatch controller: the command line, planning, cards, bench link."""
