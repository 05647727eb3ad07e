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

// OpenCircuit is CONTINUITY's resistance of an output with nothing on it.
const OpenCircuit uint32 = 1<<32 - 1

// MaxChannels is the most outputs of a board: DONE has a bit for each.
const MaxChannels = 16
