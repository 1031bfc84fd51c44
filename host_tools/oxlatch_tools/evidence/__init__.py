"""From bench to placard and back every year: what was tested, what is claimed, what is looked at again."""
