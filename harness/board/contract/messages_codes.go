// Code generated from the table by go generate; DO NOT EDIT.

package contract

// The codes of the messages.
const (
	CodeHello      Code = 0x01
	CodeSetting    Code = 0x02
	CodeIMU        Code = 0x10
	CodeBaro       Code = 0x11
	CodeGNSS       Code = 0x12
	CodeBattery    Code = 0x13
	CodeCommand    Code = 0x14
	CodeCircuits   Code = 0x15
	CodeMag        Code = 0x16
	CodeTick       Code = 0x20
	CodeSync       Code = 0x21
	CodeRestart    Code = 0x22
	CodeBye        Code = 0x23
	CodeTest       Code = 0x24
	CodeWelcome    Code = 0x81
	CodeAccept     Code = 0x82
	CodeOutput     Code = 0x90
	CodeReport     Code = 0x91
	CodeContinuity Code = 0x92
	CodeLog        Code = 0x93
	CodeDone       Code = 0xa0
	CodeSynced     Code = 0xa1
	CodeTested     Code = 0xa2
)

// String gives the message's name, or the code in hexadecimal if the table has none.
func (c Code) String() string {
	switch c {
	case CodeHello:
		return "HELLO"
	case CodeSetting:
		return "SETTING"
	case CodeIMU:
		return "IMU"
	case CodeBaro:
		return "BARO"
	case CodeGNSS:
		return "GNSS"
	case CodeBattery:
		return "BATTERY"
	case CodeCommand:
		return "COMMAND"
	case CodeCircuits:
		return "CIRCUITS"
	case CodeMag:
		return "MAG"
	case CodeTick:
		return "TICK"
	case CodeSync:
		return "SYNC"
	case CodeRestart:
		return "RESTART"
	case CodeBye:
		return "BYE"
	case CodeTest:
		return "TEST"
	case CodeWelcome:
		return "WELCOME"
	case CodeAccept:
		return "ACCEPT"
	case CodeOutput:
		return "OUTPUT"
	case CodeReport:
		return "REPORT"
	case CodeContinuity:
		return "CONTINUITY"
	case CodeLog:
		return "LOG"
	case CodeDone:
		return "DONE"
	case CodeSynced:
		return "SYNCED"
	case CodeTested:
		return "TESTED"
	}
	const hex = "0123456789abcdef"
	return string([]byte{'0', 'x', hex[c>>4], hex[c&15]})
}
