package align

import "testing"

// What only some vehicles have, said in ways that were written down before the
// matcher was asked. All invented.

func TestSchoolBus(t *testing.T) {
	play(t, matcher(t, "school-bus"), []scene{
		{"student lights one by one", "school", "my amber student lights are alternating on the front and back of the bus, no broken lenses. the red student lights are flashing left and right, front and rear. the indicators for the student lights work on the dash.",
			"school.amber=said school.amber/both-ends=said school.red=said school.indicators=said", ""},
		{"stop arm and its lights", "school", "the stop arm is mounted securely to the body of the bus, it's not bent, cracked or broken, and it extends all the way out. the lights on the stop arm are blinking and the stop arm indicator works on my dash.",
			"school.stop-arm=said school.stop-arm-lights=said school.stop-arm-indicator=said", ""},
		{"a stop arm that fails", "school", "the stop sign is mounted tight and not damaged but it sticks halfway.",
			"school.stop-arm/extends=wrong", "sticks, a listed defect, is not given to the part; stuck and jammed are"},
		{"one that is stuck", "school", "the stop sign is mounted tight and not damaged but it is stuck halfway.",
			"school.stop-arm/extends=wrong", ""},
		{"crossing arm with its distance", "school", "the crossing gate is bolted to the bumper, nothing loose, and it swings all the way out together with the stop arm to keep the kids about ten feet out in front of the bus.",
			"school.safety-arm=said school.safety-arm/distance=said", ""},
		{"kits", "school", "here is my first aid kit, it is present and sealed. and my body fluid clean up kit is in its bracket, full.",
			"school.first-aid=said school.body-fluid=said", ""},
		{"student mirrors", "school", "my student crossover mirrors are adjusted so i can see the kids in front, they are clean, and the brackets are tight.",
			"school.crossover=said", ""},
		{"a single vehicle may lose three", "air", "i hold the pedal for one minute. i should not lose more than three psi.",
			"air.leak/loss=said", ""},
		{"and not four", "air", "i hold the pedal for one minute. i should not lose more than four psi in a minute.",
			"air.leak/loss=wrong", ""},
	})
}

func TestHydraulic(t *testing.T) {
	play(t, matcher(t, "straight-hydraulic"), []scene{
		{"pump and hold", "hydraulic", "i pump the brake pedal three times, then i apply firm pressure and hold it for five seconds. the pedal stays firm and does not move.",
			"hydraulic.pump=said hydraulic.hold=said hydraulic.hold/time=said", ""},
		{"it sinks", "hydraulic", "pump the brakes three times. now i hold the pedal down for five seconds and it is sinking to the floor.",
			"hydraulic.hold/firm=wrong", ""},
		{"too short", "hydraulic", "pump it three times and hold it for two seconds, pedal stays hard.",
			"hydraulic.hold/time=wrong", ""},
		{"reserve", "hydraulic", "with the key off i press the pedal and i hear the electric motor run, and the warning light is off.",
			"hydraulic.reserve/motor=said", ""},
		{"brake fluid", "engine", "the brake fluid in the master cylinder is between min and max, i look at the side of the reservoir.",
			"engine.brake-fluid=said", ""},
		{"brake hose", "steer", "my brake hose is not cracked or worn and there are no leaks.",
			"steer.brake-hose=said", ""},
	})
}

func TestEarlierEdition(t *testing.T) {
	play(t, matcher(t, "class-a-2005"), []scene{
		{"alternator and belt", "engine", "my alternator is belt driven and securely mounted, not cracked or broken. the belt has no cracks or frays and has half to three quarters of an inch of play.",
			"engine.alternator=said engine.belts=said engine.belts/play=said", ""},
		{"too much play", "engine", "the belts are not cracked or frayed and have one to two inches of play.",
			"engine.belts/play=wrong", ""},
		{"oil", "engine", "i check the oil with the dipstick, the level must be above the refill mark.",
			"engine.oil=said", ""},
		{"slack adjuster", "steer", "the slack adjuster is securely mounted, not bent or broken, and when pulled by hand the pushrod should not move more than one inch.",
			"steer.slack=said", ""},
		{"safety belt", "cab", "my seat belt is mounted securely, it is not frayed or cut, and it latches.",
			"cab.seatbelt=said", ""},
		{"landing gear", "trailer", "the landing gear is fully raised, nothing bent or broken, and the crank handle is secured.",
			"trailer.landing-gear=said", ""},
		{"diesel exhaust fluid", "side", "my def tank is mounted and not leaking and has more than one eighth of a tank.",
			"side.def-tank=said", ""},
	})
}
