package sim

// Pad is what happens to the rocket and its boards before liftoff. Times are of the run.
type Pad struct {
	// Wait is how long the boards and their parts have been on when the run begins. Of it, only what it changes in the
	// parts is simulated: their temperature, the battery's charge, the receiver's start. The drifts of biases are in
	// their steady state anyway. The boards themselves begin with the run.
	Wait    Time
	Warmth  Warmth
	Carried Carried
	Raised  Span // until From the rocket lies, its nose where the rail leans to; at Until it stands on its rail
	Drops   []Drop
	Knocks  []Knock
	Rocking Rocking
}

// Span is a span of time. The zero Span is none.
type Span struct{ From, Until Time }

// Warmth is how the temperature of all parts of a board goes from Start to Rise above the air at the pad, as
// 1 - exp(-t/Time), from the moment at which the boards are switched on. With Time 0 there is no such change.
type Warmth struct {
	Start float64 // K; 0: that of the air
	Rise  float64 // K; of a night sky or a cold rail below 0
	Time  float64 // s
}

// Carried is a rocket that people carry until a time, lying: with each step it goes up and down with the greatest
// acceleration Bounce (m/s2), and at half that frequency it swings by Sway (rad) to either side. Pace is in steps per s.
type Carried struct {
	Until        Time
	Pace         float64
	Bounce, Sway float64
}

// Drop lifts the rocket by Height along the rail and lets it go at At. Its stop takes it up within Stop, by half a
// sine wave.
type Drop struct {
	At     Time
	Height float64 // m
	Stop   Time
}

// Knock is a blow across the rail: a half-sine pulse of Length that gives the centre of gravity Speed (m/s) towards a
// bearing. Then rocket and rail swing freely.
type Knock struct {
	At     Time
	Speed  float64
	Length Time
	Toward float64 // rad clockwise from north
}

// Rocking is the swing of the rocket with its rail about the rail's foot, which gusts keep up. Its size follows from
// wind and vehicle. With Frequency 0 the rail is rigid.
type Rocking struct {
	Frequency float64 // Hz, of the free swing
	Damping   float64 // of critical
}
