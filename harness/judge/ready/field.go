package ready

// Field is what no bench can prove and a person has to check on the field, in the order of a launch day. Common practice,
// no source.
func Field() []string {
	return []string{
		"The firmware and the settings on each board are those that flew on the bench: read back, not remembered.",
		"Each board sits as its file says, right way up; each sensor answers when the rocket is turned by hand.",
		"Each output goes to its own igniter or charge: traced by hand from the terminal to the end of the wire.",
		"Recovery packed, protected and tied on; shear pins and joints as many and as tight as in the ground test.",
		"Batteries fresh or charged; voltage measured under load, with everything on that is on at liftoff.",
		"Ports and vents of each barometer open, clear, and away from joints.",
		"Wind, rail and weather within what was flown on the bench, and within the code.",
		"Who arms, in which order, from where; who stands where; who may say stop. Said aloud to all.",
		"A way to disarm every board from outside, known and tried, for a flight that doesn't happen.",
		"On the pad, last: continuity of every real igniter and charge, as each board itself tells it.",
		"National code and makers' instructions kept; the range safety officer's word for this flight, today.",
	}
}
