package contract

// The modes of HELLO.
const (
	Lockstep uint8 = 0
	RealTime uint8 = 1
)

// The bits of WELCOME's capabilities.
const (
	CanLockstep uint16 = 1 << iota
	CanRealTime
	CanRestart
	CanSettings
	CanContinuity
	CanCommands
	CanTest
	CanCircuits
	CanMag
)

// The bits of IMU's has.
const (
	FreshAccel uint8 = 1 << iota
	FreshGyro
)

// The commands of COMMAND.
const (
	Arm    uint8 = 1
	Disarm uint8 = 2
	Stage  uint8 = 3
)

// OpenCircuit is the resistance in CONTINUITY of an open output.
const OpenCircuit uint32 = 1<<32 - 1

// MaxChannels is the most outputs of a board: DONE has a bit for each.
const MaxChannels = 16

// TestGuard makes TEST's guard word: HELLO's nonce, exclusive-or this.
const TestGuard uint32 = 0x9A7C5EED

// TestMost is the longest pulse in ms that TEST can ask for.
const TestMost uint16 = 500

// What TESTED says.
const (
	TestObeyed     uint8 = iota
	TestGuardWrong       // the guard word is not the one of this run
	TestLockstep         // the run is in lockstep: no clock would end the pulse
	TestArmed            // the board is armed
	TestTouched          // a sample or command has come since power-up, or a flight is remembered
	TestNonsense         // no such channel or length
	TestBusy             // an output is on
	TestOther            // a reason of the board's own
)
